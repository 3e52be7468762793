using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>The two technologies: they answer different questions, so one may not always replace the other.</summary>
internal enum Technology { Unknown, Oae, Abr }

/// <summary>The result of one ear in one session; none before its first valid test.</summary>
internal readonly record struct EarInSession(ScreeningOutcome? Result, Technology By, int Test)
{
    public bool IsValid => Result is not null;
    public bool IsAbrRefer => Result == ScreeningOutcome.Refer && By == Technology.Abr;
}

/// <summary>What counts for one ear so far.</summary>
internal struct EarStanding
{
    /// <summary>Null until a result counts.</summary>
    public ScreeningOutcome? Result;
    public Technology By;

    /// <summary>The test whose result counts, by its index among the facts.</summary>
    public int Test;
    public bool Attempted;

    /// <summary>The last valid ABR-based result and its day, whether or not it counts.</summary>
    public ScreeningOutcome? LastAbr;
    public DateOnly? LastAbrOn;

    /// <summary>Valid attempts in the birth admission, by technology.</summary>
    private int _oaeAttempts, _abrAttempts, _otherAttempts;

    public readonly bool Refers => Result == ScreeningOutcome.Refer;
    public readonly bool OaeOnlyPass => Result == ScreeningOutcome.Pass && By == Technology.Oae && LastAbr != ScreeningOutcome.Pass;
    public readonly int MostAttempts => Math.Max(_oaeAttempts, Math.Max(_abrAttempts, _otherAttempts));
    public readonly EarInSession Standing => new(Result, By, Test);

    public void Count(in EarInSession said) => (Result, By, Test) = (said.Result, said.By, said.Test);

    public void CountAttempt(Technology by)
    {
        if (by == Technology.Oae) _oaeAttempts++;
        else if (by == Technology.Abr) _abrAttempts++;
        else _otherAttempts++;
    }

    public readonly EarResult ToResult() => Result switch
    {
        ScreeningOutcome.Pass => EarResult.Pass,
        ScreeningOutcome.Refer => EarResult.Refer,
        _ => Attempted ? EarResult.NoValidResult : EarResult.NotScreened,
    };

    public static Technology TechnologyOf(ScreeningMethod method) => method switch
    {
        ScreeningMethod.Oae or ScreeningMethod.Teoae or ScreeningMethod.Dpoae => Technology.Oae,
        ScreeningMethod.Aabr or ScreeningMethod.Abr => Technology.Abr,
        _ => Technology.Unknown,
    };
}

/// <summary>What the screening tests say.</summary>
internal struct ScreeningOutcomeOfInfant
{
    public EarStanding Right, Left;

    /// <summary>The day both ears first had a result that counts.</summary>
    public DateOnly? CompleteOn;

    /// <summary>The day of the session that decided what counts: only one that changes it, or tests both ears, moves it.</summary>
    public DateOnly? DecidedOn;

    /// <summary>The last day of a session in which both ears had a valid result.</summary>
    public DateOnly? LastBothEarsOn;

    /// <summary>Since when an ear refers.</summary>
    public DateOnly? ReferredOn;

    /// <summary>Rescreens of both ears of an infant who had not passed.</summary>
    public int CompleteRescreens;
    public StatusFlags Flags;

    /// <summary>Why the last screen was not performed, when nothing was attempted after it.</summary>
    public ScreeningReason NotPerformed;
    public DateOnly NotPerformedOn;

    public readonly bool Refers => Right.Refers || Left.Refers;
    public readonly bool BothEarsCount => Right.Result is not null && Left.Result is not null;
    public readonly bool Passed => BothEarsCount && !Refers;

    /// <summary>Both ears had a valid ABR-based result on or after a day.</summary>
    public readonly bool BothByAbrSince(DateOnly on) => Right.LastAbrOn >= on && Left.LastAbrOn >= on;

    /// <summary>The last ABR-based result of both ears was a pass.</summary>
    public readonly bool BothPassedAbr => Right.LastAbr == ScreeningOutcome.Pass && Left.LastAbr == ScreeningOutcome.Pass;
    public readonly ScreeningConclusion Conclusion =>
        !BothEarsCount
            ? Right.Attempted || Left.Attempted ? ScreeningConclusion.Incomplete : ScreeningConclusion.NotScreened
            : (Right.Refers, Left.Refers) switch
            {
                (true, true) => ScreeningConclusion.ReferredBothEars,
                (false, false) => ScreeningConclusion.Passed,
                _ => ScreeningConclusion.ReferredOneEar,
            };
}
