using System.Globalization;
using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>How each kind of fact reads in the time line: what happened, and what else was said of it.</summary>
public static class TimeLineWords
{
    public const string SomeSite = "a site";

    public static string Ear(Ear ear) => $"{Words.Of((Enum)ear)} ear";

    /// <summary>Tests of one session, ear by ear, in their order: "Screen: right ear refer, then pass · left ear pass".</summary>
    public static string Session(IEnumerable<ReportedScreening> tests) =>
        "Screen: " + string.Join(" · ", tests.GroupBy(t => t.Ear).OrderBy(e => e.Key).Select(Told));

    private static string Told(IGrouping<Ear, ReportedScreening> tests) =>
        $"{Words.Within(Ear(tests.Key))} {string.Join(", then ", tests.Select(t => Lower(t.Outcome)))}";

    public static (string What, string Detail) Of(ReportedFact fact, IReadOnlyDictionary<SiteId, string> sites) => fact switch
    {
        ReportedBirth birth => ("Birth", Of(birth)),
        ReportedScreening test => ($"Screen, {Lower(test.Ear)} ear: {Words.Of(test.Outcome).ToLowerInvariant()}", Of(test)),
        ReportedDiagnosis found => (
            found.Provisional ? "Diagnostic evaluation, provisional" : "Diagnostic evaluation", Join(
                $"right {Finding(found.Right, found.RightDegree)}", $"left {Finding(found.Left, found.LeftDegree)}",
                found.Permanent switch { true => "expected to be permanent", false => "not expected to be permanent", _ => null },
                found.NextOn is { } next ? $"to be seen again {Words.Date(next)}" : null,
                found.Evaluator is { } by ? $"evaluated by {by}" : null, found.Place)),
        ReportedIntervention event_ => ("Early intervention", Words.Of(event_.Kind)),
        ReportedDeath => ("Death", ""),
        ReportedMove move => ("Move", Words.Of(move.Kind)),
        ReportedTransfer transfer => ("Care passed on", "to " + sites.GetValueOrDefault(new(transfer.ToSiteId), SomeSite)),
        ReportedRefusal refusal => ($"Refusal of {Lower(refusal.Step)}",
            refusal.RevokedOn is { } revoked ? $"revoked {Words.Date(revoked)}" : ""),
        ReportedRisk risk => ("Risk indicator", Words.Of(risk.Kind)),
        ReportedReadmission stay => ("Readmission", Join(
            stay.DischargedOn is { } home ? $"discharged {Words.Date(home)}" : null,
            stay.RaisesRisk ? "with a condition that raises risk" : null)),
        ReportedMedicalDelay delay => ($"Medical reason to delay {Lower(delay.Step)}",
            delay.EndedOn is { } ended ? $"ended {Words.Date(ended)}" : "still holds"),
        ReportedContact contact => ($"Contact about {Lower(contact.Step)}", Join(
            Words.Of(contact.Outcome), contact.Person is { } person ? Lower(person) : null,
            contact.Channel is { } channel ? $"by {Lower(channel)}" : null,
            contact.CallAgainOn is { } again ? $"call again {Words.Date(again)}" : null, contact.Note)),
        ReportedAppointment at => ($"Appointment {Words.Date(at.AppointmentOn)} for {Lower(at.Step)}: {Lower(at.Kind)}", Join(
            at.Time?.ToString("HH:mm", CultureInfo.InvariantCulture),
            at.AtSiteId is { } site ? sites.GetValueOrDefault(new(site), SomeSite) : null, at.Place)),
        ReportedFamilyContact person => ($"Family: {Lower(person.Kind)}", FamilyWords.Said(person)),
        ReportedCare care => ("Primary care and insurance", FamilyWords.Said(care)),
        _ => throw new ArgumentOutOfRangeException(nameof(fact), $"No words for a {fact.GetType().Name}."),
    };

    private static string Of(ReportedBirth birth) => Join(
        birth.Place is { } place ? Words.Of(place) : null, birth.Sex == Sex.Unknown ? null : Words.Of(birth.Sex),
        birth.GestationWeeks is { } weeks ? $"{weeks} weeks" : null,
        birth.BirthWeightGrams is { } grams ? $"{Words.Count(grams)} g" : null,
        birth.Plurality > 1
            ? $"one of {birth.Plurality}{(birth.BirthOrder is { } order ? $", born as number {order}" : "")}" : null,
        birth.NicuAdmittedOn is { } nicu
            ? $"NICU from {Words.Date(nicu)} to {(birth.NicuDischargedOn is { } left ? Words.Date(left) : "not known")}" : null,
        birth.DischargedOn is { } home ? $"discharged {Words.Date(home)}" : null,
        birth.PostDischargeProvider is { } provider ? $"cared for by {provider} after discharge" : null);

    private static string Of(ReportedScreening test) => Join(
        Method(test.Method), test.Reason == ScreeningReason.None ? null : Lower(test.Reason),
        test.Stage == ScreeningStage.Unstated ? null : Lower(test.Stage),
        test.Instrument is null ? null : $"instrument {test.Instrument}", test.Probe is null ? null : $"probe {test.Probe}",
        test.Screener is null ? null : $"screener {test.Screener}");

    private static string Method(ScreeningMethod method) => method switch
    {
        ScreeningMethod.Unknown => "method not stated",
        ScreeningMethod.Oae => "otoacoustic emissions",
        ScreeningMethod.Teoae => "transient-evoked otoacoustic emissions",
        ScreeningMethod.Dpoae => "distortion-product otoacoustic emissions",
        ScreeningMethod.Aabr => "automated auditory brainstem response",
        _ => "auditory brainstem response",
    };

    private static string Finding(EarFinding finding, LossDegree degree) =>
        Words.Within(Words.Of(finding)) + (degree == LossDegree.NotStated ? "" : $", {Words.Of(degree).ToLowerInvariant()}");

    private static string Lower(Enum value) => Words.Within(Words.Of(value));

    private static string Join(params string?[] parts) => string.Join(" · ", parts.Where(p => !string.IsNullOrEmpty(p)));
}
