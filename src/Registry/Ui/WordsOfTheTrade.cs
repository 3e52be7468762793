using Registry.Rules.Facts;

namespace Registry.Ui;

// How the trade spells what the program's names spell otherwise.
public static partial class Words
{
    private static readonly Dictionary<string, string> Spelled = new(StringComparer.OrdinalIgnoreCase)
    {
        ["nicu"] = "NICU",
        ["abr"] = "ABR",
        ["aabr"] = "AABR",
        ["oae"] = "OAE",
        ["teoae"] = "TEOAE",
        ["dpoae"] = "DPOAE",
        ["cmv"] = "CMV",
        ["ecmo"] = "ECMO",
        ["ansd"] = "ANSD",
        ["ifsp"] = "IFSP",
        ["zika"] = "Zika",
        ["artefacts"] = "artifacts",
        ["cancelled"] = "canceled",
        ["enrol"] = "enroll",
        ["enrolment"] = "enrollment",
    };

    public static string Of(EarFinding finding) => finding switch
    {
        EarFinding.AuditoryNeuropathy => "Auditory neuropathy (ANSD)",
        EarFinding.LossUndetermined => "Hearing loss, type undetermined",
        _ => Sentence(finding.ToString()),
    };

    public static string Of(InterventionKind kind) => kind switch
    {
        InterventionKind.Referred => "Referred to Part C",
        InterventionKind.Eligible => "Eligible for Part C",
        InterventionKind.NotEligible => "Not eligible for Part C",
        InterventionKind.Enrolled => "Enrolled in early intervention",
        InterventionKind.ServicePlan => "IFSP meeting",
        InterventionKind.CmvTested => "CMV test taken",
        InterventionKind.OtherServices => "Services other than Part C",
        _ => Sentence(kind.ToString()),
    };

    /// <summary>The words within a sentence: small at the start, but for abbreviations and names.</summary>
    public static string Within(string words)
    {
        var first = words.AsSpan(0, words.IndexOf(' ', StringComparison.Ordinal) is > 0 and var end ? end : words.Length);
        return first.Length == 0 || first is "Zika" || (first.Length > 1 && char.IsUpper(first[1])) ? words
            : char.ToLowerInvariant(words[0]) + words[1..];
    }

    private static string AsTheTradeSpells(string words)
    {
        var parts = words.Split(' ');
        for (var i = 0; i < parts.Length; i++)
        {
            if (!Spelled.TryGetValue(parts[i], out var spelled)) continue;
            parts[i] = i == 0 ? char.ToUpperInvariant(spelled[0]) + spelled[1..] : spelled;
        }

        return string.Join(' ', parts);
    }
}
