using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Measures;
using Registry.Ui;

namespace Registry.Reporting.Measures;

public enum ReportInfantsRefusal { NotUnderstood, NoSuchLine }

/// <summary>A page of the infants one number of a report counts.</summary>
/// <param name="Line">The name of the line that counts them.</param>
/// <param name="Sites">Names by code.</param>
public sealed record ListedReportInfants(
    MeasureRequest Asked, string Line, string? Group, int Total, int Start, IReadOnlyList<MeasuredInfant> Infants,
    IReadOnlyDictionary<string, string> Sites)
{
    public const int PageSize = 100;

    public bool HasNext => Start + Infants.Count < Total;
}

/// <summary>Lists the infants one number of a report counts, found by counting again, so that the list is as long as the number (lines that
/// count ears: shorter); the read is recorded.</summary>
public sealed class ListReportInfants(
    ComputeMeasures measures, PolicyStore policies, ProgramClock clock, SiteChoices sites, AuditReads audit)
{
    public async Task<(ListedReportInfants? Listed, ReportInfantsRefusal? Refusal)> PageAsync(
        IQueryCollection query, string? line, string? group, int start, CancellationToken ct)
    {
        var (request, _) = MeasureRequest.Read(query, clock);
        if (request is null) return (null, ReportInfantsRefusal.NotUnderstood);
        var policy = await policies.InForceAsync(request.AsOf, ct);
        if (MeasureSet.Under(policy).Lines.FirstOrDefault(l => l.Code == line) is not { } counted)
            return (null, ReportInfantsRefusal.NoSuchLine);
        var behind = await measures.BehindAsync(request, counted.Code, group, ct);
        var page = behind.OrderBy(i => i.Born).ThenBy(i => i.Id).Skip(start).Take(ListedReportInfants.PageSize).ToList();
        await audit.ListAsync(page.Select(i => new InfantId(i.Id)), ct);
        return (new(request, counted.Name, group, behind.Count, start, page,
            (await sites.AllAsync(ct)).ToDictionary(s => s.Code, s => s.Name)), null);
    }
}
