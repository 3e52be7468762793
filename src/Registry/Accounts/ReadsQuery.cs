using System.Globalization;
using Registry.Access;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>What the query of a page of the trail asks for; what cannot be read is left out.</summary>
public static class ReadsQuery
{
    public static ReadsAsked Read(IQueryCollection query) => new(
        Codes.TryParse<AccessKind>(query["kind"], out var kind) ? kind : null, Day(query["from"]), Day(query["to"]),
        long.TryParse(query["before"], NumberStyles.None, CultureInfo.InvariantCulture, out var before) ? before : null);

    private static DateOnly? Day(string? text) =>
        DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)
            && day.Year is > 1900 and < 9000 ? day : null;
}
