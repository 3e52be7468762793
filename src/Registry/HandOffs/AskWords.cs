using Registry.Platform;
using Registry.Records;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>What is said to and about somebody who is asked for an answer.</summary>
public static class AskWords
{
    public const string Subject = "A question from the newborn hearing program";
    public const string NoSite = "Who the infant was handed to";
    public const string Revoked = "The link opens nothing any more.";
    public const string NotRevoked = "There is no such link that opens.";

    /// <summary>The same for a wrong birth date, one try too many, and a link that opens nothing.</summary>
    public const string NotOpened = "That did not match, or the link opens nothing any more.";
    public const string TooMany = "Too many tries at this moment. Please wait a minute.";

    /// <summary>Names no family and no infant.</summary>
    public static string Letter(ProgramOptions program, string link, DateOnly until) =>
        $"{program.Name} asks you for an answer about a child you were asked to see.\n\n{link}\n\nThe link opens a short form, once, until "
        + $"{Words.Date(until)}. Have the child's birth date at hand: the form asks for it first. If you did not expect this, or would "
        + $"rather answer by telephone, call {program.Phone}.\n";

    public static string Of(AnswerPurpose purpose) => purpose switch
    {
        AnswerPurpose.Result => "Result",
        _ => "Whether the hand-off arrived",
    };

    public static string State(AskedLine line) => line switch
    {
        { Request.AnsweredAt: { } at } => $"answered {Words.Time(at)}",
        { Request.RevokedAt: { } at } => $"closed {Words.Time(at)}",
        { IsOpen: true } => $"open until {Words.Time(line.Request.EndsAt)}",
        _ => $"ran out {Words.Time(line.Request.EndsAt)}",
    };

    public static string Of(AskAnswer answer) => answer switch
    {
        AskAnswer.Mailed => "The link was sent. It opens once.",
        AskAnswer.ChooseSite => "Choose the clinic whose result is asked for.",
        AskAnswer.NotOpen => "There is no such hand-off that waits to be acknowledged.",
        _ => "That was not understood. Nothing was asked.",
    };
}
