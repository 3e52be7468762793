using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.FollowUp.Chance;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>What the work list says.</summary>
public static class WorkWords
{
    public const string Order =
        "First whoever's next milestone ends soonest and can still be met. Both ears and risk move an infant forward, tries without an "
            + "answer back. Those for whom nothing can be in time any more come after, the latest to pass first; between equals, who was "
            + "tried longest ago. The order is the program's choice (policy) and concludes nothing about a child.";

    public const string InOne =
        "Each infant is in one only, the first that holds: appointment booked; waiting for a result; closed; waiting for a call back; "
            + "lost to follow-up or documentation; monitoring; call today. An infant with several steps due is counted once, by the "
            + "soonest.";

    public static string Of(WorkTray tray) => tray switch
    {
        WorkTray.CallToday => "Call today",
        WorkTray.CallBack => "Waiting for a call back",
        WorkTray.AppointmentBooked => "Appointment booked",
        WorkTray.ResultAwaited => "Waiting for a result",
        WorkTray.SearchAgain => "Lost to follow-up: search again",
        WorkTray.Monitoring => "Monitoring",
        WorkTray.Closed => "Closed",
        _ => "Not due yet",
    };

    public static string Empty(WorkTray tray) => tray switch
    {
        WorkTray.CallToday => "Nobody is to be called now. Infants come here when a step is due, or on the day a call back was set for.",
        WorkTray.CallBack => "Nobody waits for a call back.",
        WorkTray.AppointmentBooked => "No appointment is booked.",
        WorkTray.ResultAwaited => "No appointment has passed without a result.",
        WorkTray.SearchAgain => "Nobody you may see is lost to follow-up.",
        WorkTray.Closed => "No work was closed. What ends by a death, a move or a refusal is not here: nothing is due any more.",
        _ => "No monitoring is due.",
    };

    /// <summary>What is known of the child, in a few words.</summary>
    public static string Result(WorkRow row) =>
        row.Hearing == HearingConclusion.NotEvaluated ? Words.Of(row.Screening) : Words.Of(row.Hearing);

    /// <summary>Why the row stands where it does, in the order of weight.</summary>
    public static IEnumerable<string> Why(WorkRow row, DateOnly today) => row.Reasons.Select(r => Of(r, today)).Where(w => w.Length > 0);

    private static string Of(WorkReason reason, DateOnly today) => reason switch
    {
        { Kind: WorkReasonKind.MilestoneUntil, On: { } on } =>
            $"next milestone can still be met: {Left(on, today)} left, to {Words.Date(on)}",
        { Kind: WorkReasonKind.StepUntil, On: { } on } => $"in time to {Words.Date(on)}",
        { Kind: WorkReasonKind.PassedOn, On: { } on } => $"out of time since {Words.Date(on)}",
        { Kind: WorkReasonKind.BothEars } => $"both ears ({Moved(reason.Days)})",
        { Kind: WorkReasonKind.Nicu } => $"NICU ({Moved(reason.Days)})",
        { Kind: WorkReasonKind.RiskIndicator } => $"risk indicator ({Moved(reason.Days)})",
        { Kind: WorkReasonKind.TriesWithoutAnswer } => $"tries without an answer ({Moved(reason.Days)})",
        { Kind: WorkReasonKind.NoShow, On: { } on } => $"did not come on {Words.Date(on)}",
        { Kind: WorkReasonKind.CallAgain, On: { } on } => $"call again on {Words.Date(on)}",
        { Kind: WorkReasonKind.PutOff, On: { } on } => $"put off to {Words.Date(on)}",
        { Kind: WorkReasonKind.AppointmentOn, On: { } on } => $"appointment on {Words.Date(on)}",
        { Kind: WorkReasonKind.AppointmentPassed, On: { } on } => $"appointment was on {Words.Date(on)}, its result is not known",
        { Kind: WorkReasonKind.HandedOff, On: { } on } => $"handed off, to be acknowledged by {Words.Date(on)}",
        { Kind: WorkReasonKind.HandOffAcknowledged, On: { } on } => $"handed off, acknowledged on {Words.Date(on)}",
        { Kind: WorkReasonKind.NotAcknowledged, On: { } on } => $"hand-off not acknowledged by {Words.Date(on)}: ask whether it arrived",
        { Kind: WorkReasonKind.SearchedFor, On: { } on } => $"searched for, again on {Words.Date(on)}",
        { Kind: WorkReasonKind.ContactFound, On: { } on } => $"a search on {Words.Date(on)} brought a way to reach the family",
        { Kind: WorkReasonKind.Closed, On: { } on } => $"closed on {Words.Date(on)}",
        { Kind: WorkReasonKind.ChanceOfLoss } => $"{ChanceWords.Of(reason)} ({Moved(reason.Days)})",
        { Kind: WorkReasonKind.Search } => "lost to follow-up or documentation in the survey's sense",
        _ => "",
    };

    private static string Left(DateOnly on, DateOnly today) => Words.Count(on.DayNumber - today.DayNumber + 1, "day");

    private static string Moved(int days) =>
        days == 0 ? "does not move it" : $"{Words.Count(Math.Abs(days), "day")} {(days > 0 ? "forward" : "back")}";

    public static string LastContact(WorkRow row) => row.LastOutcome is { } outcome
        ? $"{Words.Of(outcome)}, {Words.Date(row.LastOn)} ({Words.Count(row.Attempts, "attempt")})" : "No attempt recorded";

    public static string Name(WorkRow row) => row.Mother.Length > 0 ? row.Mother
        : row.Child.Length > 0 ? row.Child : row.RecordNumber ?? "No name or number";

    public static string Of(PutOffReason reason) => reason switch
    {
        PutOffReason.FamilyAsked => "The family asked for a later call",
        PutOffReason.InHospital => "The child is in hospital",
        PutOffReason.FamilyAway => "The family is away",
        PutOffReason.RecordsAwaited => "Records were asked for",
        _ => "Other",
    };

    public static string Of(AppointmentEvent kind) => kind switch
    {
        AppointmentEvent.Kept => "The family came",
        AppointmentEvent.NoShow => "Did not come",
        AppointmentEvent.Cancelled => "Canceled",
        _ => Words.Of((Enum)kind),
    };

    /// <summary>Every language by its name, and one that is asked for by another spelling.</summary>
    public static IEnumerable<SelectListItem> Languages(string? asked)
    {
        var chosen = Platform.Languages.CodeOf(asked);
        var all = Platform.Languages.All.Select(l => new SelectListItem(l.Name, l.Code, l.Code == chosen)).ToList();
        return chosen is null || all.Exists(l => l.Selected) ? all : all.Prepend(new SelectListItem(chosen, chosen, true));
    }

    /// <summary>What a filter shows, in words.</summary>
    /// <param name="filter">The filter.</param>
    /// <param name="sites">What sites are called, by code.</param>
    public static string Of(WorkFilter filter, IReadOnlyDictionary<string, string> sites) => string.Join(" · ", new[]
    {
        Of(filter.Tray), filter.Step is { } step ? Words.Of((Enum)step) : null,
        filter.Site is { } site ? sites.GetValueOrDefault(site, "a site that is not known") : null,
        filter.County is { } county ? $"county {county}" : null,
        filter.Language is { } language ? $"the family speaks {Words.Language(language)}" : null,
        filter.Owner switch { WorkFilter.Mine => "assigned to me", WorkFilter.Nobodys => "assigned to nobody", _ => null },
        filter.WithPhone ? "with a phone number" : null,
    }.OfType<string>());
}
