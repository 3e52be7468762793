using Registry.Intake.Rows;

namespace Registry.Intake.Mappings;

/// <summary>What a person reads about column mappings.</summary>
public static class MappingWords
{
    public const string Saved = "The mapping is saved and in force.";
    public const string Retired = "The mapping is out of use. Any version can be put in force again.";
    public static readonly string ChooseFile = $"Choose a .csv or .xlsx file of at most {ReadSample.MaxBytes / 1048576} MiB.";

    public static string InForceAgain(int version) => $"Version {version} is in force again.";

    /// <param name="done">What was done.</param>
    /// <param name="others">Other mappings in force with the same header.</param>
    public static string Done(string done, IReadOnlyList<string> others) => others.Count == 0 ? done
        : $"{done} Other mappings in force have the same header ({string.Join(", ", others)}): a file with it is refused until its sender "
            + "names one, or all but one are taken out of use.";

    public static string Of(MappingRefusal refusal) => refusal switch
    {
        MappingRefusal.NameTaken => "Another mapping of the site in force has this name.",
        _ => "Somebody saved a version meanwhile. Open the mapping again.",
    };

    public static string Of(MappingFormProblem problem) => problem switch
    {
        MappingFormProblem.Name => $"A name of 1 to {MappingForm.LongestName} characters.",
        MappingFormProblem.SavedMeanwhile => Of(MappingRefusal.SavedMeanwhile),
        MappingFormProblem.NoSite => "Choose the site whose files it reads.",
        _ => "Choose a sample of the files it is to read.",
    };

    /// <summary>Why a sample cannot be read.</summary>
    public static string Of(FileProblem problem) =>
        $"{(problem.Row > 0 ? $"Row {problem.Row}: " : "")}{problem.Field} {problem.Reason}".Trim();
}
