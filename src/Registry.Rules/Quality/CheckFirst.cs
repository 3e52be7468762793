namespace Registry.Rules.Quality;

/// <summary>Something to look at first, with what it rests on.</summary>
/// <param name="Id">Its code: what a page shows it under.</param>
/// <param name="Text">One sentence to whoever can look.</param>
/// <param name="Source">Published source; "Common practice, no source" without one.</param>
/// <param name="Mark">What the source is worth.</param>
public sealed record FirstCheck(string Id, string Text, string Source, SourceMark Mark);

/// <summary>
/// What to look at first, by measure, direction and named cause: a table, not a judgment. Every page that shows it also shows
/// <see cref="Caution"/>.
/// </summary>
public static class CheckFirst
{
    public const string Caution = "The manufacturer's instructions and the local protocol come first. A flag says where to look, not "
        + "who is at fault: case mix that is not recorded, a season or chance can be behind it.";

    private const string Practice = "Common practice, no source";

    private static readonly FirstCheck Tip = new("tip_and_port",
        "Look at the probe: tip size and fit, wax or fluid in the port, cracks; then the cable.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Swap = new("swap_probe",
        "Exchange the probe with another for a day and see whether the results move with it.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Calibration = new("calibration",
        "Look up the last check and calibration, and test a known ear or a test cavity.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Placement = new("placement",
        "Watch one session: how the tip is seated, how the infant is settled, when a test is stopped and repeated.",
        Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Training = new("competency",
        "Look up the last competency check; offer a session with an experienced screener.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Room = new("room",
        "Listen to the room at those hours: voices, alarms, ventilation, cleaning; try a quieter one.",
        Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Settled = new("settled_infant",
        "Test a sleeping, fed infant; electrical noise also comes from lamps, pumps and phones.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Timing = new("timing",
        "Test later before discharge where it can be: most ears that refer on the first day pass after it.",
        "Emissions pass 53.7 % before 24 h, 80.1 % to 36 h, 92.6 % to 48 h, 99.3 % later (n = 408): Am J Perinatol 2025, "
            + "10.1055/a-2675-1768", SourceMark.Found);
    private static readonly FirstCheck Protocol = new("protocol",
        "Ask what changed at the site around the onset: protocol, instruments, staff, room, discharge times.",
        Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck PassesAll = new("known_ears",
        "Stop relying on it until it is checked: test a probe that is not in an ear, which must not pass.", Practice,
        SourceMark.CommonPractice);
    private static readonly FirstCheck Criterion = new("criterion",
        "Compare the pass criterion set in the instrument with the protocol.", Practice, SourceMark.CommonPractice);
    private static readonly FirstCheck Electrodes = new("electrodes",
        "Where brainstem responses are measured: skin preparation, electrodes and their impedance.", Practice, SourceMark.CommonPractice);

    /// <summary>Every check there is.</summary>
    public static IReadOnlyList<FirstCheck> All { get; } =
        [Tip, Swap, Calibration, Placement, Training, Room, Settled, Timing, Protocol, PassesAll, Criterion, Electrodes];

    /// <summary>In the order to look; never empty.</summary>
    /// <param name="measure">What is unusual.</param>
    /// <param name="above">Too many; else too few.</param>
    /// <param name="cause">The factor named.</param>
    public static IReadOnlyList<FirstCheck> For(SessionMeasure measure, bool above, CauseKind cause) => (measure, above, cause) switch
    {
        (SessionMeasure.Early, _, _) or (_, true, CauseKind.EarlyTests) => [Timing, Protocol],
        (_, false, CauseKind.Screener) => [PassesAll, Criterion, Placement],
        (_, false, _) => [PassesAll, Criterion, Calibration],
        (SessionMeasure.NoSeal, _, CauseKind.Probe) => [Tip, Swap, Calibration],
        (SessionMeasure.NoSeal, _, CauseKind.Instrument) => [Tip, Swap, Calibration],
        (SessionMeasure.NoSeal, _, CauseKind.Screener) => [Placement, Training],
        (SessionMeasure.NoSeal, _, _) => [Tip, Placement, Protocol],
        (SessionMeasure.Noise, _, CauseKind.Screener) => [Settled, Placement, Training],
        (SessionMeasure.Noise, _, CauseKind.Probe or CauseKind.Instrument) => [Swap, Electrodes, Calibration],
        (SessionMeasure.Noise, _, _) => [Room, Settled],
        (SessionMeasure.OtherInvalid, _, CauseKind.Screener) => [Settled, Placement, Training],
        (SessionMeasure.OtherInvalid, _, _) => [Calibration, Electrodes, Protocol],
        (SessionMeasure.RescreenReferred, _, CauseKind.Site) => [Protocol, Criterion, Placement],
        (_, _, CauseKind.Probe) => [Tip, Swap, Calibration],
        (_, _, CauseKind.Instrument) => [Calibration, Criterion, Electrodes, Tip],
        (_, _, CauseKind.Screener) => [Placement, Training],
        _ => [Protocol, Timing, Criterion],
    };
}
