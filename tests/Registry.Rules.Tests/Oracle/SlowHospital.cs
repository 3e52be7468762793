
namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Who is in hospital is neither lost nor written to. Known of it: a NICU with no end yet, and a readmission. A stay nobody ended is
/// believed
/// for the policy's days (ours: otherwise a forgotten discharge would hide a child for good).
/// </summary>
internal sealed class SlowHospital(KnownFacts known)
{
    private IEnumerable<(DateOnly From, DateOnly Until)> Stays()
    {
        var believed = known.Policy.InpatientDays;
        if (known.All.Birth.NicuAdmittedOn is { } nicu) yield return (nicu, known.Stay.Ended ?? nicu.AddDays(believed));
        foreach (var again in known.All.Readmissions)
            yield return (again.AdmittedOn, again.DischargedOn ?? again.AdmittedOn.AddDays(believed));
    }

    private IEnumerable<(DateOnly From, DateOnly Until)> Begun => Stays().Where(s => known.By(s.From));

    public bool IsIn => Begun.Any(s => known.AsOf < s.Until);

    /// <summary>The family gets the policy's grace after it comes home, too.</summary>
    public DateOnly? Home => Begun.Select(s => (DateOnly?)s.Until).Max();
}
