using Microsoft.AspNetCore.WebUtilities;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.FollowUp;

/// <summary>Which of the work a list holds. Read from the query string: codes only, never names or numbers.</summary>
public sealed record WorkFilter
{
    public const string Mine = "mine", Nobodys = "nobody";

    public WorkTray Tray { get; init; }
    public PathStep? Step { get; init; }

    /// <summary>Code of the site that owns the next step.</summary>
    public string? Site { get; init; }
    public string? County { get; init; }

    /// <summary>Code of a language, however it was stated.</summary>
    public string? Language { get; init; }

    /// <summary><see cref="Mine"/> or <see cref="Nobodys"/>.</summary>
    public string? Owner { get; init; }

    /// <summary>Only infants whose family has a telephone number on record.</summary>
    public bool WithPhone { get; init; }

    public static WorkFilter Read(IQueryCollection query)
    {
        return new()
        {
            Tray = Codes.TryParse<WorkTray>(Text("tray"), out var tray) && tray != WorkTray.NotYet ? tray : WorkTray.CallToday,
            Step = Codes.TryParse<PathStep>(Text("step"), out var step) ? step : null,
            Site = Text("site"),
            County = Text("county"),
            Language = Text("language"),
            Owner = Text("owner") is Mine or Nobodys ? Text("owner") : null,
            WithPhone = Text("phone") == "true",
        };

        string? Text(string name) => query[name].ToString() is { Length: > 0 and <= 100 } text ? text : null;
    }

    /// <summary>The filter as the list's address has it: codes only.</summary>
    public string ToQuery() => string.Join('&', new[]
    {
        ("tray", Codes.Of(Tray)), ("step", Step is { } step ? Codes.Of(step) : null), ("site", Site), ("county", County),
        ("language", Language), ("owner", Owner), ("phone", WithPhone ? "true" : null),
    }.Where(p => p.Item2 is not null).Select(p => $"{p.Item1}={Uri.EscapeDataString(p.Item2!)}"));

    public static WorkFilter OfQuery(string query) => Read(new QueryCollection(QueryHelpers.ParseQuery(query)));

    /// <summary>Its infants are those of some sites and steps: what is counted of them is kept.</summary>
    public bool IsOfSitesAndSteps => Language is null && !WithPhone && Owner is null;

    /// <summary>The conditions on <c>w</c> (work) and <c>rs</c> (the site that owns the next step) but for the tray; binds their
    /// values.</summary>
    public IEnumerable<string> Conditions(NpgsqlCommand command, Viewer viewer)
    {
        // A site's work is what its own next steps are; which infants it sees beside them is in the lists.
        if (viewer.SiteId is { } own)
            yield return $"w.responsible_site_id = any ({OfHeir} where h.heir_id = {Bind("own", own.Value)}))";
        if (Step is { } step) yield return $"w.step = any ({Bind("steps", StepsOf(step))})";
        if (Site is not null)
            yield return $"w.responsible_site_id = any ({OfHeir} join sites v on v.id = h.heir_id where v.code = {Bind("site", Site)}))";
        if (County is not null) yield return $"rs.county = {Bind("county", County)}";
        if (Language is { } spoken)
            yield return $"{OfBirth} and lower(b.language) = any ({Bind("language", Languages.SpellingsOf(spoken))}))";
        if (WithPhone) yield return $"{OfBirth} and b.contact_phone is not null)";
        if (Owner == Mine) yield return $"w.infant_id = any (array({OfOwner} = {Bind("me", viewer.PersonId ?? Guid.Empty)}))";
        if (Owner == Nobodys) yield return $"not {Given})";

        string Bind(string name, object value)
        {
            command.Parameters.AddWithValue(name, value);
            return "@" + name;
        }
    }

    private const string OfHeir = "array(select h.site_id from site_heirs h";
    private const string OfBirth = "exists (select from births b where b.infant_id = w.infant_id and b.superseded_at is null";
    private const string OfOwner = "select a.infant_id from infant_assignments a where a.ended_at is null and a.person_id";
    private const string Given = "exists (select from infant_assignments a where a.infant_id = w.infant_id and a.ended_at is null";

    private static string[] StepsOf(PathStep path) =>
        [.. Enum.GetValues<Rules.DueStep>().Where(s => WorkPlace.PathOf(s) == path).Select(s => Codes.Of(s))];
}
