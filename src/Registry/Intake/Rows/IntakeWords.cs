using Registry.Records;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.Rows;

/// <summary>How intake's codes read on screen.</summary>
public static class IntakeWords
{
    public static string Of(SubmissionState state) => state switch
    {
        SubmissionState.Received => "Waiting",
        SubmissionState.Refused => "Refused: the file cannot be read",
        _ => Words.Of((Enum)state),
    };

    public static string Of(SubmissionFormat format) => format switch
    {
        SubmissionFormat.Csv => "CSV",
        SubmissionFormat.Json => "JSON",
        SubmissionFormat.Ndjson => "NDJSON",
        SubmissionFormat.Hl7V2 => "HL7 v2",
        SubmissionFormat.Fhir => "FHIR R4",
        SubmissionFormat.Xlsx => "Workbook (XLSX)",
        SubmissionFormat.Typed => "Typed on a page",
        SubmissionFormat.FixedWidth => "Fixed width (vital records)",
        _ => Words.Of((Enum)format),
    };

    public static string Of(TextEncoding encoding) => encoding switch
    {
        TextEncoding.Utf8 => "UTF-8",
        TextEncoding.Utf16Le => "UTF-16, little end first",
        TextEncoding.Utf16Be => "UTF-16, big end first",
        _ => "Windows-1252",
    };

    public static string Of(RowOutcome outcome) => outcome switch
    {
        RowOutcome.Unchanged => "Changed nothing",
        RowOutcome.StillWaiting => "Sent before, still waiting",
        _ => Words.Of((Enum)outcome),
    };

    public static string Of(HoldReason reason) => reason switch
    {
        HoldReason.IdentifiersDisagree => "Its identifiers belong to two different infants",
        HoldReason.IdentifierContradicted => "The identifier is known, but birth date, sex or birth order say another child",
        HoldReason.SeveralCandidates => "More than one infant fits",
        HoldReason.PartialAgreement => "An infant fits in part, not enough to be sure",
        HoldReason.BirthOrderMissing => "A multiple birth, and the birth order is not stated",
        HoldReason.NoSuchInfant => "No such infant yet; applied by itself when the birth arrives",
        HoldReason.NothingRecorded => "Takes back what this site has not said; applied by itself when it does",
        HoldReason.SeveralRecorded => "Corrects something this site has said more than once, without saying which",
        HoldReason.AwaitsConfirmation => "The site has reported nothing about this infant before: waits until its birth site or the office "
            + "confirms it; applied by itself then",
        HoldReason.NotConfirmed => "Its birth site or the office says that the infant is not in this site's care: check who it is about",
        HoldReason.OthersRestOnIt => "Takes back a birth that other facts rest on; applied by itself when they are taken back",
        _ => "Says something else than what is recorded",
    };
}
