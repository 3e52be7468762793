using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Records;

namespace Registry.Intake.Typing;

/// <summary>The way back from a form to where the person was: the call in the work list with its filter, the record, or the search for the
/// family. It comes in an address, so anything else is not believed.</summary>
public static class BackTo
{
    private const string WorkList = "/follow-up";

    /// <returns>The page that was asked for; null when it is none of these.</returns>
    public static string? Ours(IUrlHelper url, string? asked, Guid? infant)
    {
        if (!url.IsLocalUrl(asked)) return null;
        var record = $"/infants/{infant}";
        return asked == WorkList || asked!.StartsWith(WorkList + "?", StringComparison.Ordinal)
            || (infant is not null && (asked == record || asked == record + "/search")) ? asked : null;
    }

    /// <summary>What became of what was entered, with the same way back.</summary>
    public static string Entered(SubmissionId id, string? back, bool undo = false) => QueryHelpers.AddQueryString($"/entered/{id}",
        new Dictionary<string, string?> { ["handler"] = undo ? "Undo" : null, ["back"] = back }.Where(q => q.Value is not null));
}
