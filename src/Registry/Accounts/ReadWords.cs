using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>A line of the access trail as a sentence: "Cora Ashgrove, coordinator of the program, opened the record".</summary>
internal static class ReadWords
{
    /// <summary>What seeing an infant through a page or endpoint is called.</summary>
    private static readonly (string Action, string Seen, string Taken)[] Seeing =
    [
        ("GET /infants/{id:guid}", "opened the record", "opened the record"),
        ("GET /infants/{id:guid}/reads", "looked up who opened the record", "looked up who opened the record"),
        ("GET /infants/{id:guid}/kept", "looked up what is kept of the infant", "took what is kept of the infant away in a file"),
        ("POST /find", "found it by a search", "found it by a search"),
        ("GET /ward", "saw it on the ward list", "saw it on the ward list"),
        ("GET /infants", "saw it in a list of infants", "took a list with it away as CSV"),
        ("GET /follow-up", "saw it in the follow-up list", "took a follow-up list with it away as CSV"),
        ("GET /reports/infants", "saw it behind a number of a report", "took the infants behind a number away as CSV"),
        ("GET /sites/{code}/tests", "saw it behind a rate of a site", "took the tests behind a rate away as CSV"),
        ("GET /policy/drafts/{id:guid}/infants", "saw it among those a draft would change", "took those a draft would change away"),
        ("GET /outreach", "saw it among the reminders", "saw it among the reminders"),
        ("GET /erasures", "saw it among erasures", "saw it among erasures"),
        ("GET /glasses", "saw it among records opened by breaking the glass", "saw it among records opened by breaking the glass"),
        ("GET /api/v1/export/{what}", "took it away in an export of the whole region", "took it away in an export of the whole region"),
    ];

    /// <summary>"Cora Ashgrove, coordinator of the program"; "the system ward computer of Harbor Hospital".</summary>
    public static string Who(Read read) => read switch
    {
        { Who.Length: 0 } => "The registry itself",
        { Role: { } role } => $"{read.Who}, {Words.Of(role).ToLowerInvariant()} of {read.Site ?? "the program"}",
        { Site: { } site } => $"{read.Who} of {site}",
        _ => read.Who,
    };

    /// <summary>Tells lines of one infant from lines of others: the end of its identifier, which says nothing else.</summary>
    public static string Mark(InfantId infant) => infant.ToString()[^5..];

    /// <summary>Where it was: "Follow-up, tray: call today", "Find, sent". Nothing where no page is named.</summary>
    public static string Where(Read read)
    {
        if (read.Action.Split(' ', 2) is not [var method, ['/', ..] path]) return "";
        var page = string.Join(", ", path.Split('/').Where(p => p.Length > 0 && p[0] != '{').Select(p => Plain(p)));
        var parts = new List<string> { page.Length == 0 ? "Overview" : char.ToUpperInvariant(page[0]) + page[1..] };
        if (method != "GET") parts.Add("sent");
        if (read.Handler is { } handler) parts.Add(Plain(handler));
        if (read.Filter is { } filter) parts.AddRange(filter.Split('&').Select(Pair));
        return string.Join(", ", parts);
    }

    private static string Pair(string pair) =>
        pair.Split('=', 2) is [var name, var value] ? $"{Plain(name)}: {Plain(value)}" : Plain(pair);

    /// <summary>A code as plain words: <c>call_today</c>, <c>lostAt</c>, <c>follow-up</c>. A day stays as it is.</summary>
    private static string Plain(string code) => AskedDay.TryRead(code, out var day) ? Words.Date(day)
        : Words.Sentence(code.Replace('_', ' ')).ToLowerInvariant();

    public static string Did(Read read) => read.Kind switch
    {
        AccessKind.Read => Saw(read),
        AccessKind.NotShown => "asked for a record and was not shown it",
        AccessKind.Denied => "asked for a page that is not theirs",
        AccessKind.GlassBroken => "opened the record by breaking the glass",
        AccessKind.GlassClosed => "closed a record that was opened by breaking the glass",
        AccessKind.GlassRefused => "tried to break the glass, and nothing was opened",
        AccessKind.InfantAssigned => read.Note == "taken" ? "took the infant from its case worker" : "gave the infant to a case worker",
        AccessKind.HandedOff => "handed the infant off, or said what came of that",
        AccessKind.AnswerAsked => "asked a clinic or program about the infant, or took its answer",
        AccessKind.SearchedFor => "searched for the family, or took that back",
        AccessKind.WorkClosed => "closed the follow-up, or opened it again",
        AccessKind.AnswerRefused => "tried a link for an answer, and nothing was opened",
        AccessKind.ExtractTaken => "took the de-identified extract",
        AccessKind.SignedIn => "signed in",
        AccessKind.SignedOut => "signed out",
        AccessKind.ErasureAsked => "asked for the infant to be erased",
        AccessKind.ErasureRefused => "refused the erasure",
        AccessKind.Erased => "erased the infant",
        _ => Words.Of((Enum)read.Kind).ToLowerInvariant(),
    };

    private static string Saw(Read read)
    {
        if (Seeing.FirstOrDefault(s => s.Action == read.Action) is { Seen: { } seen } known)
            return read.Handler is null ? seen : known.Taken;
        if (read.Action.Contains("/fhir/", StringComparison.Ordinal)) return "read it over FHIR";
        if (read.Action.Contains("/claims", StringComparison.Ordinal)) return "saw it among claims to confirm";
        if (read.Action.Contains("/submissions", StringComparison.Ordinal)) return "saw it beside rows that were sent";
        return read.InList || read.Infants != 1 ? "saw infants on a page" : "saw the infant on a page";
    }
}
