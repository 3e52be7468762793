using Registry.Infants.Statuses;

namespace Registry.Infants.List;

/// <summary>A column of a list of infants taken away as a file.</summary>
public sealed record InfantColumn(string Name, Func<InfantRow, StatusesAsOf, object?> Value)
{
    private static readonly Dictionary<string, InfantColumn> All = new InfantColumn[]
    {
        new("record_number", (r, _) => r.RecordNumber),
        new("born_on", (r, _) => r.BornOn),
        new("birth_site", (r, _) => r.BirthSite),
        new("responsible_site", (r, _) => r.ResponsibleSite),
        new("screening", (r, _) => r.Screening),
        new("screened", (r, _) => r.Screened),
        new("diagnosed", (r, _) => r.Diagnosed),
        new("enrolled", (r, _) => r.Enrolled),
        new("hearing", (r, _) => r.Hearing),
        new("next_step", (r, _) => r.NextStep),
        new("next_due_on", (r, _) => r.NextDueOn),
        new("days_overdue", (r, statuses) => r.DaysOverdue(statuses.AsOf)),
        new("loss", (r, _) => r.Loss),
        new("lost_at", (r, _) => r.LostAt),
        new("contact_attempts", (r, _) => r.ContactAttempts),
        new("last_contact_on", (r, _) => r.LastContactOn),
        new("last_contact", (r, _) => r.LastContact),
        new("as_of", (_, statuses) => statuses.AsOf),
        new("policy_version", (_, statuses) => statuses.PolicyVersion),
    }.ToDictionary(c => c.Name);

    /// <summary>Columns by name, in this order.</summary>
    public static IReadOnlyList<InfantColumn> Named(params string[] names) => [.. names.Select(name => All[name])];
}
