using System.Globalization;
using Npgsql;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>The three milestones by their column prefix in <c>infant_status</c>.</summary>
public enum MilestoneKind { Screened, Diagnosed, Enrolled }

/// <summary>Where the soonest due step lies, seen from the as-of date.</summary>
public enum DueWindow { Overdue, Week, Month, Any }

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

    /// <summary>What could not be read, in words; the rest of the filter is applied.</summary>
    public IReadOnlyList<string> Problems { get; init; } = [];

    public static InfantFilter Read(IQueryCollection query)
    {
        var problems = new List<string>();
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
            problems.Add("A state was given without a milestone, so it was left out.");
        return filter with { Problems = problems };

        string? Text(string name) => query[name].ToString() is { Length: > 0 and <= 100 } text ? text : null;

        T? One<T>(string name) where T : struct, Enum => Text(name) is { } text ? Code<T>(name, text) : null;

        T? Code<T>(string name, string text) where T : struct, Enum
        {
            if (Codes.TryParse<T>(text, out var value)) return value;
            problems.Add($"The filter '{name}' is not one of: {string.Join(", ", Codes.All<T>())}. It was left out.");
            return null;
        }

        DateOnly? Day(string name)
        {
            if (Text(name) is not { } text) return null;
            if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)) return day;
            problems.Add($"The date '{name}' reads year-month-day, like 2026-03-31. It was left out.");
            return null;
        }
    }

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
        if (Responsible is not null) yield return $"rs.code = {Bind("responsible", Responsible)}";
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

    /// <summary>The filter in words, for the head of a list: "milestone screened: overdue · born from 1 Jan 2026".</summary>
    public IEnumerable<string> Describe()
    {
        if (Milestone is { } m)
        {
            if (States.Count > 0) yield return $"{Words.Of(m)}: {string.Join(" or ", States.Select(s => Words.Of(s).ToLowerInvariant()))}";
            if (Closed == true) yield return $"{Words.Of(m)}: deadline passed";
            if (Closed == false) yield return $"{Words.Of(m)}: deadline not passed";
        }

        if (From is not null || To is not null)
            yield return $"born {(From is null ? "" : "from " + Words.Date(From))} {(To is null ? "" : "to " + Words.Date(To))}".Trim();
        if (Screening is { } screening) yield return $"screen: {Words.Of(screening)}";
        if (Hearing is { } hearing) yield return $"hearing: {Words.Of(hearing)}";
        if (LostAt is { } lostAt) yield return $"lost at: {Words.Of(lostAt)}";
        if (Flag is { } flag) yield return $"flag: {Words.Of(flag)}";
        if (Certificate) yield return "with a certificate of vital records";
    }
}
