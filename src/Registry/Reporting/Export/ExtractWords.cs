namespace Registry.Reporting.Export;

/// <summary>What the columns of the de-identified extract say.</summary>
public static class ExtractWords
{
    public static readonly IReadOnlyList<(string Column, string Means)> Fields =
    [
        ("birth_month", "Year and month of birth."),
        ("sex", "As reported."),
        ("gestation", "Completed weeks, in three bands ('under_32', '32_to_36', '37_or_more'); empty when not reported."),
        ("screening", "What the screen concluded, by the policy in force."),
        ("right_ear", "The result that stands for the right ear."),
        ("left_ear", "The result that stands for the left ear."),
        ("screened_state", "The first milestone: met, late, missed, pending, excluded."),
        ("screened_age_days", "Age in days when it was done."),
        ("hearing", "What the evaluations concluded."),
        ("laterality", "Of a permanent hearing loss."),
        ("right_degree", "Degree found on the right."),
        ("left_degree", "Degree found on the left."),
        ("diagnosed_state", "The second milestone."),
        ("diagnosed_age_days", "Age in days when it was done."),
        ("enrolled_state", "The third milestone."),
        ("enrolled_age_days", "Age in days when it was done."),
        ("lost_to", "Lost to follow-up, lost to documentation, or none."),
        ("lost_at", "At which step."),
        ("alike", "How many rows of this file have the same month of birth, sex, gestation, hearing and laterality, this one included."),
    ];

    public static string SmallCounts(int threshold) =>
        $"A count below {threshold} is not published: by the program's policy it can point at a child. Rows whose column alike is below "
        + $"{threshold} are as near to a name as this file comes.";
}
