using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>A filter in words.</summary>
public static class InfantFilterWords
{
    private const string NoSite = "a site that is not known";

    public static string Of(DueWindow due) => due switch
    {
        DueWindow.Overdue => "Overdue",
        DueWindow.Week => "Due within 7 days",
        DueWindow.Month => "Due within 30 days",
        _ => "Anything due",
    };

    public static string Of(FilterProblem problem) => problem switch
    {
        FilterProblem.UnknownCode(var name, var known) =>
            $"The filter '{name}' is not one of: {string.Join(", ", known)}. It was left out.",
        FilterProblem.UnreadableDate(var name) => $"The date '{name}' reads year-month-day, like 2026-03-31. It was left out.",
        _ => "A state was given without a milestone, so it was left out.",
    };

    /// <summary>All of a filter, for who saved it.</summary>
    /// <param name="filter">The filter.</param>
    /// <param name="sites">What sites are called, by code.</param>
    public static string Shown(InfantFilter filter, IReadOnlyDictionary<string, string> sites)
    {
        var rest = new[]
        {
            filter.Site is { } site ? $"born at {sites.GetValueOrDefault(site, NoSite)}" : null,
            filter.Responsible is { } owner ? $"responsible: {sites.GetValueOrDefault(owner, NoSite)}" : null,
            filter.County is { } county ? $"county {county}" : null,
            filter.Step is { } step ? $"next step: {Words.Of(step)}" : null,
            filter.Due is { } due ? Of(due) : null,
            filter.Loss switch
            {
                null => null,
                "any" => "lost to follow-up or documentation",
                var code => Words.Of(Codes.Parse<LossState>(code)),
            },
        };
        return string.Join(" · ", Describe(filter).Concat(rest.OfType<string>()).DefaultIfEmpty("every infant"));
    }

    /// <summary>For the head of a list: "screened: overdue", "born from 1 Jan 2026".</summary>
    public static IEnumerable<string> Describe(InfantFilter filter)
    {
        if (filter.Milestone is { } m)
        {
            if (filter.States.Count > 0)
                yield return $"{Words.Of(m)}: {string.Join(" or ", filter.States.Select(s => Words.Of(s).ToLowerInvariant()))}";
            if (filter.Closed == true) yield return $"{Words.Of(m)}: deadline passed";
            if (filter.Closed == false) yield return $"{Words.Of(m)}: deadline not passed";
        }

        if (filter.From is not null || filter.To is not null)
        {
            var from = filter.From is { } first ? "from " + Words.Date(first) : "";
            var to = filter.To is { } last ? "to " + Words.Date(last) : "";
            yield return $"born {from} {to}".Trim();
        }

        if (filter.Screening is { } screening) yield return $"screen: {Words.Of(screening)}";
        if (filter.Hearing is { } hearing) yield return $"hearing: {Words.Of(hearing)}";
        if (filter.LostAt is { } lostAt) yield return $"lost to follow-up or documentation at: {Words.Of(lostAt)}";
        if (filter.Flag is { } flag) yield return $"flag: {Words.Of(flag)}";
        if (filter.Certificate) yield return "with a certificate of vital records";
    }
}
