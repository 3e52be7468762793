using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.PolicyVersions;
using Registry.Rules;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary>The program's choices in force on the as-of day, its earlier and later versions, and the rules with their sources.</summary>
public sealed class PolicyModel(PolicyStore policies, AsOf asOf) : PageModel
{
    public Policy InForce { get; private set; } = Policy.Default;
    public IReadOnlyList<Policy> Versions { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        InForce = await policies.InForceAsync(asOf.Date, ct);
        Versions = await policies.AllAsync(ct);
    }

    /// <summary>"1 month after birth, that day included".</summary>
    public static string Say(Deadline deadline) =>
        $"{Words.Count(deadline.Amount, deadline.Unit == DeadlineUnit.Months ? "month" : "day")} after birth, that day "
            + $"{(deadline.Inclusive ? "included" : "not included")}";

    public static string Say(SourceMark mark) => mark switch
    {
        SourceMark.Found => "found in the source",
        SourceMark.FromMemory => "from memory, not verified",
        SourceMark.Inferred => "inferred from published figures",
        SourceMark.Ours => "our own choice",
        _ => "common practice, no source",
    };
}
