using Registry.Platform;

namespace Registry.Ui;

/// <summary>What an HTTP status means, and what to do, in words for a browser.</summary>
public static class ProblemWords
{
    public static string Heading(int status) => status switch
    {
        400 => "That could not be understood",
        403 => "Not allowed",
        404 => "Nothing here",
        408 => "That took too long",
        429 => "Too much is being sent at once",
        >= 500 => "Something went wrong here",
        _ => "That did not work",
    };

    /// <summary>An as-of date no registry can answer for.</summary>
    public static RequestRefusedException NoSuchDay() => new(StatusCodes.Status400BadRequest, "That day is too early",
        "The registry knows of nobody then. Ask for a later day.");

    public static string Advice(int status) => status switch
    {
        400 => "The form may have been open too long. Go back, reload the page and send it again.",
        403 => "Your role does not permit this.",
        404 => "There is no such page, or it belongs to a site that is not yours.",
        408 => "Nothing of it was stored. Send it again, packed with gzip or in parts.",
        429 => "Nothing of it was stored. Wait a moment, go back and send it again.",
        >= 500 => "Nothing you sent was half-done: it was either saved wholly or not at all. Try again; if it repeats, report the "
            + "reference below.",
        _ => "Go back and try again.",
    };
}
