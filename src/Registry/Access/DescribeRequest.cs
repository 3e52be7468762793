using System.Text.RegularExpressions;
using Registry.Records;

namespace Registry.Access;

/// <summary>What the access trail says of a request: who, from where, through which page, with which filter. Never a URL: one that
/// was typed may hold anything.</summary>
public sealed partial class DescribeRequest
{
    private const int LongestFilter = 500;

    /// <summary>Parameters of our own pages, whose values are codes, dates and numbers. Others are left out: only what we read is
    /// kept.</summary>
    private static readonly HashSet<string> Kept =
    [
        "milestone", "state", "closed", "from", "to", "site", "responsible", "screening", "hearing", "step", "due", "loss", "lostAt",
        "flag", "certificate", "asOf", "sort", "show", "by", "line", "group", "start", "page", "change", "format", "kind", "period",
        "breakdown", "outcome", "reason", "waits", "tray", "owner",
    ];

    /// <summary>An entry about this request.</summary>
    public AccessRecord Entry(HttpContext http, AccessKind kind, InfantId? infant = null, int count = 0, Guid[]? infants = null,
        Guid? subject = null, string? note = null, Guid? by = null)
    {
        var viewer = Viewer.Of(http.User);
        return new()
        {
            Kind = kind,
            PersonId = viewer.PersonId ?? by,
            SiteKeyId = viewer.SiteKeyId,
            Action = $"{http.Request.Method} /{(http.GetEndpoint() as RouteEndpoint)?.RoutePattern.RawText?.TrimStart('/')}",
            Handler = Code(http.Request.Query["handler"]) ?? Code(http.Request.RouteValues["handler"]?.ToString()),
            Filter = Filter(http.Request.Query),
            InfantId = infant,
            InfantCount = count,
            Infants = infants,
            SubjectId = subject,
            Note = note,
            Address = http.Connection.RemoteIpAddress?.ToString(),
        };
    }

    private static string? Filter(IQueryCollection query)
    {
        var kept = string.Join('&', query.Where(q => Kept.Contains(q.Key))
            .SelectMany(q => q.Value, (q, value) => Code(value) is { } code ? $"{q.Key}={code}" : null).OfType<string>());
        return kept.Length == 0 ? null : kept[..Math.Min(kept.Length, LongestFilter)];
    }

    private static string? Code(string? value) => value is not null && CodeForm().IsMatch(value) ? value : null;

    [GeneratedRegex(@"^[A-Za-z0-9_.:-]{1,60}\z")]
    private static partial Regex CodeForm();
}
