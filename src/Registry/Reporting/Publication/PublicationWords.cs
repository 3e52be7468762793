using Registry.Reporting.Measures;
using Registry.Rules.Measures;

namespace Registry.Reporting.Publication;

/// <summary>What the pages of published reports say.</summary>
public static class PublicationWords
{
    public const string Published = "The report is published. It can be run again at any time.";
    public const string VitalBirths = "Births in vital records";
    public const string OlderLine = "(a line of older definitions)";

    public static string Title => $"A title of 1 to {PublishReport.LongestTitle} characters.";

    /// <summary>Why a report run again has other figures.</summary>
    public static string Of(ChangedSince changed, PublishedReport report) => changed switch
    {
        ChangedSince.Facts => "The facts known at that moment are no longer the same: a fact was un-superseded, or records were merged or "
            + "separated, after publication.",
        ChangedSince.Definitions =>
            $"The definitions of the measures changed from {report.MeasureSetVersion} to {MeasureSet.Version}.",
        ChangedSince.Program => $"The program changed from version {report.ProgramVersion} to {MeasureReport.ProgramVersion}.",
        _ => "Facts, policy, definitions and program version are the same: the rules of this build differ without a new version. "
            + "Report this as a fault.",
    };
}
