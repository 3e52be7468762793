using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>What the homes of clinics and early-intervention programs say.</summary>
public static class ClinicWords
{
    public const string SaidNothing = "The program office is told that you have no result. Thank you.";

    public static string Of(ClinicWork kind) => kind switch
    {
        ClinicWork.Appointment => "Appointments",
        ClinicWork.ToAcknowledge => "Handed to you, to accept or return",
        ClinicWork.ResultToEnter => "Results to enter",
        _ => "Results you are asked for",
    };

    public static string What(ClinicRow row, DateOnly today) => row.Kind switch
    {
        ClinicWork.Appointment => $"{(row.On == today ? "Today" : Words.Date(row.On))}{(row.Time is { } at ? $", {at:HH:mm}" : "")}: "
            + Words.Within(Words.Of((Enum)row.Step)),
        ClinicWork.ToAcknowledge => $"For {Words.Within(Words.Of((Enum)row.Step))}, to be acknowledged by {Words.Date(row.On)}"
            + (row.On < today ? ": late" : ""),
        ClinicWork.ResultToEnter => $"{Words.Of((Enum)row.Step)}: no result since {Words.Date(row.On)}",
        _ => $"{Words.Of((Enum)row.Step)}: asked for on {Words.Date(row.On)}",
    };

    public static string Name(string mother, string child, string? number) =>
        mother.Length > 0 ? mother : child.Length > 0 ? child : number ?? "No name or number";

    /// <summary>Where the result of a step is entered.</summary>
    public static string EntryOf(ClinicRow row) => row.Step switch
    {
        PathStep.Screening => $"/infants/{row.Id}/screen",
        PathStep.Diagnosis => $"/infants/{row.Id}/enter/diagnosis",
        _ => $"/infants/{row.Id}/enter/intervention",
    };

    public static string Of(ReferralStage stage) => stage switch
    {
        ReferralStage.ToAcknowledge => "To acknowledge",
        ReferralStage.ConsentAwaited => "Waiting for consent",
        ReferralStage.ToEnroll => "To enroll",
        ReferralStage.PlanDue => "Service plan (IFSP) to record",
        _ => "In services",
    };
}
