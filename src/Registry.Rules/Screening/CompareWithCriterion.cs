using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>How a reported outcome stands to the site's own criterion.</summary>
public enum CriterionFinding
{
    /// <summary>No criterion holds for the test, no bands were reported, or the outcome is neither pass nor refer.</summary>
    NotCompared,
    Agrees,

    /// <summary>Reported as a pass, and fewer bands than needed meet the criterion.</summary>
    PassBelowCriterion,

    /// <summary>Reported as a pass, with fewer bands than the criterion needs.</summary>
    PassWithTooFewBands,

    /// <summary>Reported as a refer, and the bands meet the criterion.</summary>
    ReferMeetsCriterion,
}

/// <param name="Finding">What was found.</param>
/// <param name="Met">Bands that meet the criterion.</param>
/// <param name="Judged">Bands that count and have what the criterion asks for.</param>
/// <param name="Needed">Bands the criterion needs.</param>
public readonly record struct CriterionResult(CriterionFinding Finding, int Met, int Judged, int Needed)
{
    /// <summary>The outcome and the criterion differ: a note about the data, never another outcome.</summary>
    public bool Differs => Finding is not (CriterionFinding.NotCompared or CriterionFinding.Agrees);

    /// <summary>A sentence for the note; empty when they do not differ.</summary>
    public string Says() => !Differs ? "" :
        $"Reported as a {(Finding == CriterionFinding.ReferMeetsCriterion ? "refer" : "pass")}, while {Met} of {Judged} reported bands "
            + $"meet the site's own criterion, which needs {Needed}.";
}

/// <summary>
/// Compares a reported outcome with the criterion its site states for a pass. The outcome stays what was reported: the instrument may have
/// measured more than the bands it sent. A note tells the site to look whether result, ear or setting was mistaken.
/// </summary>
/// <remarks>Signal-to-noise ratio in dB is emission level less noise floor where it is not stated itself (both in dB SPL). What is compared
/// is common practice, no source.</remarks>
public static class CompareWithCriterion
{
    public static CriterionResult Compare(ScreeningOutcome outcome, TestDetail? detail, PassCriterion? criterion)
    {
        if (criterion is null || detail is null || outcome is not (ScreeningOutcome.Pass or ScreeningOutcome.Refer)) return default;
        var judged = detail.Bands
            .Where(b => (criterion.FrequenciesHz.Length == 0 || criterion.FrequenciesHz.Contains(b.FrequencyHz))
                && b.Snr is not null && (criterion.MinLevelDbSpl is null || b.LevelDbSpl is not null)).ToList();
        if (judged.Count == 0) return default;
        var met = judged.Count(b => b.Snr >= criterion.MinSnrDb && (criterion.MinLevelDbSpl is not { } least || b.LevelDbSpl >= least));
        var finding = (outcome, met >= criterion.Bands) switch
        {
            (ScreeningOutcome.Pass, false) => judged.Count < criterion.Bands
                ? CriterionFinding.PassWithTooFewBands : CriterionFinding.PassBelowCriterion,
            (ScreeningOutcome.Refer, true) => CriterionFinding.ReferMeetsCriterion,
            _ => CriterionFinding.Agrees,
        };
        return new(finding, met, judged.Count, criterion.Bands);
    }
}
