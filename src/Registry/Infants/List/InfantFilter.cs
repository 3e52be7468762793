using System.Globalization;
using Microsoft.AspNetCore.WebUtilities;
using Npgsql;
using Registry.Platform;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Infants.List;

/// <summary>The three milestones by their column prefix in <c>infant_status</c>.</summary>
public enum MilestoneKind { Screened, Diagnosed, Enrolled }

/// <summary>Where the soonest due step lies, seen from the as-of date.</summary>
public enum DueWindow { Overdue, Week, Month, Any }

/// <summary>A part of a filter that was left out, and why.</summary>
public abstract record FilterProblem
{
    public sealed record UnknownCode(string Name, IReadOnlyList<string> Known) : FilterProblem;

    public sealed record UnreadableDate(string Name) : FilterProblem;

    public sealed record StateWithoutMilestone : FilterProblem;
}

/// <summary>Which infants a list holds. Read from the query string, so that every number on a page can link to its infants.
/// Values are codes and dates, never names or record numbers.</summary>
public sealed record InfantFilter
{
    public MilestoneKind? Milestone { get; init; }
    public IReadOnlyList<MilestoneState> States { get; init; } = [];

    /// <summary>True: only infants whose deadline for <see cref="Milestone"/> has passed; false: only those whose has not.</summary>
    public bool? Closed { get; init; }
    public DateOnly? From { get; init; }
    public DateOnly? To { get; init; }

    /// <summary>Code of the birth site; of the site that owns the next step.</summary>
    public string? Site { get; init; }
    public string? Responsible { get; init; }
    public string? County { get; init; }
    public ScreeningConclusion? Screening { get; init; }
    public HearingConclusion? Hearing { get; init; }
    public DueStep? Step { get; init; }
    public DueWindow? Due { get; init; }

    /// <summary>"any", or the code of a <see cref="LossState"/>.</summary>
    public string? Loss { get; init; }
    public PathStep? LostAt { get; init; }
    public StatusFlags? Flag { get; init; }

    /// <summary>Only infants that bear a certificate number of a vital-records office.</summary>
    public bool Certificate { get; init; }

    /// <summary>What could not be read; the rest of the filter is applied.</summary>
    public IReadOnlyList<FilterProblem> Problems { get; init; } = [];

    public static InfantFilter Read(IQueryCollection query)
    {
        var problems = new List<FilterProblem>();
        var filter = new InfantFilter
        {
            Milestone = One<MilestoneKind>("milestone"),
            States = [.. query["state"].Where(v => !string.IsNullOrEmpty(v)).Select(v => Code<MilestoneState>("state", v!))
                .OfType<MilestoneState>()],
            Closed = query["closed"].ToString() switch { "true" => true, "false" => false, _ => null },
            From = Day("from"),
            To = Day("to"),
            Site = Text("site"),
            Responsible = Text("responsible"),
            County = Text("county"),
            Screening = One<ScreeningConclusion>("screening"),
            Hearing = One<HearingConclusion>("hearing"),
            Step = One<DueStep>("step"),
            Due = One<DueWindow>("due"),
            Loss = Text("loss") is { } loss && (loss == "any" || Code<LossState>("loss", loss) is not null) ? loss : null,
            LostAt = One<PathStep>("lostAt"),
            Flag = One<StatusFlags>("flag"),
            Certificate = query["certificate"] == "true",
        };
        if ((filter.States.Count > 0 || filter.Closed is not null) && filter.Milestone is null)
            problems.Add(new FilterProblem.StateWithoutMilestone());
        return filter with { Problems = problems };

        string? Text(string name) => query[name].ToString() is { Length: > 0 and <= 100 } text ? text : null;

        T? One<T>(string name) where T : struct, Enum => Text(name) is { } text ? Code<T>(name, text) : null;

        T? Code<T>(string name, string text) where T : struct, Enum
        {
            if (Codes.TryParse<T>(text, out var value)) return value;
            problems.Add(new FilterProblem.UnknownCode(name, [.. Codes.All<T>()]));
            return null;
        }

        DateOnly? Day(string name)
        {
            if (Text(name) is not { } text) return null;
            if (AskedDay.TryRead(text, out var day)) return day;
            problems.Add(new FilterProblem.UnreadableDate(name));
            return null;
        }
    }

    /// <summary>The filter as the list's address has it: codes and dates only.</summary>
    public string ToQuery() => string.Join('&', States.Select(s => ("state", (string?)Codes.Of(s))).Concat(new[]
    {
        ("milestone", Milestone is { } milestone ? Codes.Of(milestone) : null), ("closed", Closed is { } closed ? Truth(closed) : null),
        ("from", Day(From)), ("to", Day(To)), ("site", Site), ("responsible", Responsible), ("county", County),
        ("screening", Screening is { } screening ? Codes.Of(screening) : null),
        ("hearing", Hearing is { } hearing ? Codes.Of(hearing) : null),
        ("step", Step is { } step ? Codes.Of(step) : null), ("due", Due is { } due ? Codes.Of(due) : null), ("loss", Loss),
        ("lostAt", LostAt is { } lostAt ? Codes.Of(lostAt) : null), ("flag", Flag is { } flag ? Codes.Of(flag) : null),
        ("certificate", Certificate ? Truth(true) : null),
    }).Where(p => p.Item2 is not null).Select(p => $"{p.Item1}={Uri.EscapeDataString(p.Item2!)}"));

    public static InfantFilter OfQuery(string query) => Read(new QueryCollection(QueryHelpers.ParseQuery(query)));

    private static string Truth(bool yes) => yes ? "true" : "false";

    private static string? Day(DateOnly? day) => day?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>The conditions on <c>s</c> (statuses), <c>bs</c> (birth site) and <c>rs</c> (responsible site); binds their
    /// values.</summary>
    public IEnumerable<string> Conditions(NpgsqlCommand command, DateOnly asOf)
    {
        if (Milestone is { } milestone)
        {
            var column = Codes.Of(milestone);
            if (States.Count > 0) yield return $"s.{column}_state = any({Bind("states", States.Select(s => Codes.Of(s)).ToArray())})";
            if (Closed == true) yield return $"s.{column}_deadline_on < {Bind("closed_on", asOf)}";
            if (Closed == false) yield return $"s.{column}_deadline_on >= {Bind("closed_on", asOf)}";
        }

        if (From is { } from) yield return $"s.born_on >= {Bind("born_from", from)}";
        if (To is { } to) yield return $"s.born_on <= {Bind("born_to", to)}";
        if (Site is not null) yield return $"bs.code = {Bind("site", Site)}";
        if (Responsible is not null)
        {
            // Its own, and those of closed sites it continues.
            yield return "rs.id in (select h.site_id from site_heirs h join sites heir on heir.id = h.heir_id "
                + $"where heir.code = {Bind("responsible", Responsible)})";
        }

        if (County is not null) yield return $"rs.county = {Bind("county", County)}";
        if (Screening is { } screening) yield return $"s.screening = {Bind("screening", Codes.Of(screening))}";
        if (Hearing is { } hearing) yield return $"s.hearing = {Bind("hearing", Codes.Of(hearing))}";
        if (Step is { } step) yield return $"s.next_step = {Bind("step", Codes.Of(step))}";
        if (Due is { } due)
        {
            var day = Bind("due_from", asOf);
            yield return due switch
            {
                DueWindow.Overdue => $"s.next_due_on < {day}",
                DueWindow.Week => $"s.next_due_on between {day} and {day} + 7",
                DueWindow.Month => $"s.next_due_on between {day} and {day} + 30",
                _ => "s.next_due_on is not null",
            };
        }

        if (Loss == "any") yield return "s.loss <> 'none'";
        else if (Loss is not null) yield return $"s.loss = {Bind("loss", Loss)}";
        if (LostAt is { } lostAt) yield return $"s.lost_at = {Bind("lost_at", Codes.Of(lostAt))}";
        if (Flag is { } flag) yield return $"s.flags & {Bind("flag", (int)flag)} <> 0";
        if (Certificate)
        {
            yield return $"""
                exists (select from infant_identifiers i join sites v on v.id = i.site_id
                         where i.infant_id = s.infant_id and i.kind = 'record_number' and v.kind = 'vital_records'
                           and i.recorded_at < {Bind("certificate_known", asOf.AddDays(1))} and i.superseded_at is null)
                """;
        }

        string Bind(string name, object value)
        {
            command.Parameters.AddWithValue(name, value);
            return "@" + name;
        }
    }
}
