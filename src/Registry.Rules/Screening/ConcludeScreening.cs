using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>
/// From tests to one result per ear. Sessions are walked in time order. In the initial screen (the birth admission; or,
/// when that gave no valid result, the outpatient sessions up to the first complete screen) the last valid result of each
/// ear counts. A rescreen replaces it only when both ears had a valid result in one session; a rescreen of one ear can
/// refer, but not clear; so can a rescreen beyond those offered. The both-ears rule is for infants who did not pass: the ear that had
/// no result beside one that passed may pass alone. Screening is over once an infant who referred has begun diagnostic evaluation.
/// </summary>
internal static class ConcludeScreening
{
    /// <param name="facts">All facts.</param>
    /// <param name="policy">The policy.</param>
    /// <param name="evaluatedFrom">First day of diagnostic evaluation.</param>
    /// <param name="day">The as-of day.</param>
    /// <param name="notes">Empty, or one per test, filled with what became of it.</param>
    public static ScreeningOutcomeOfInfant From(
        InfantFacts facts, Policy policy, DateOnly? evaluatedFrom, ref Day day, Span<TestNote> notes = default)
    {
        var tests = facts.Tests;
        if (tests.Length == 0) return default;

        Span<int> order = tests.Length <= 64 ? stackalloc int[tests.Length] : new int[tests.Length];
        OrderTests.ByTime(tests, order);

        var walk = new Walk(facts, policy, evaluatedFrom, notes);
        foreach (var index in order)
        {
            if (!day.Reached(DateOnly.FromDateTime(tests[index].PerformedAt))) break;
            walk.Meet(tests[index], index, ref day);
        }

        return walk.End();
    }

    /// <summary>Tests at one site within some hours of the first one, or minutes of the last; its stage is that of its first
    /// test.</summary>
    private struct Session
    {
        /// <summary>From 1; 0 while none is open.</summary>
        public int Number;
        public ScreeningStage Stage;
        public EarInSession Right, Left;

        /// <summary>Day of the last valid test.</summary>
        public DateOnly LastValidOn;
        private readonly DateTime _startedAt;
        private readonly Guid? _siteId;
        private DateTime _lastAt;

        public Session(int number, in ScreeningTest first, ScreeningStage stage) =>
            (Number, Stage, _startedAt, _lastAt, _siteId) = (number, stage, first.PerformedAt, first.PerformedAt, first.SiteId);

        public readonly bool EitherEar => Right.IsValid || Left.IsValid;
        public readonly bool BothEars => Right.IsValid && Left.IsValid;

        public bool Takes(in ScreeningTest test, Policy policy)
        {
            if (Number == 0 || test.SiteId != _siteId) return false;
            if (Age.Elapsed(_startedAt, test.PerformedAt, policy.Zone).TotalHours > policy.SessionHours
                && Age.Elapsed(_lastAt, test.PerformedAt, policy.Zone).TotalMinutes > policy.SittingMinutes) return false;
            _lastAt = test.PerformedAt;
            return true;
        }
    }

    /// <summary>
    /// The walk, from test to test: tests gather in a session, and each session is weighed when the next one begins.
    /// On the stack, as the whole evaluation is.
    /// </summary>
    private ref struct Walk(InfantFacts facts, Policy policy, DateOnly? evaluatedFrom, Span<TestNote> notes)
    {
        private readonly Span<TestNote> _notes = notes;
        private readonly BirthStay _stay = BirthStay.Of(facts, policy);
        private ScreeningOutcomeOfInfant _found;
        private Session _session;
        private bool _anyValid, _birthAdmissionWasValid;

        /// <summary>An infant who referred has begun diagnostic evaluation: what is tested from then on no longer counts.</summary>
        private bool _screeningIsOver;

        /// <summary>The next test in time order, which has happened.</summary>
        public void Meet(in ScreeningTest test, int index, ref Day day)
        {
            var on = DateOnly.FromDateTime(test.PerformedAt);
            if (on < facts.Birth.Date)
            {
                _found.Flags |= StatusFlags.FactsConflict;
                Note(index, new(TestUse.BeforeBirth, ScreeningStage.Unstated, 0));
                return;
            }

            if (facts.DiedOn is { } died && on > died && day.Reached(died)) _found.Flags |= StatusFlags.FactsConflict;
            if (test.Outcome == ScreeningOutcome.NotPerformed) SetAside(test, index, on);
            else Attempt(test, index, on);
        }

        /// <summary>After the last test.</summary>
        public ScreeningOutcomeOfInfant End()
        {
            WeighSession();
            NoteWhatCounts(_found.Right);
            NoteWhatCounts(_found.Left);
            if (Math.Max(_found.Right.MostAttempts, _found.Left.MostAttempts) > policy.MaxValidAttempts)
                _found.Flags |= StatusFlags.OverScreened;
            if (_found.CompleteRescreens > policy.MaxRescreens) _found.Flags |= StatusFlags.RescreenedTooOften;
            if (TooEarlyForAbr(_found.Right) || TooEarlyForAbr(_found.Left)) _found.Flags |= StatusFlags.AbrBeforeReliableAge;
            return _found;
        }

        /// <summary>Not performed is no attempt and belongs to no session; its reason holds until something is attempted.</summary>
        private void SetAside(in ScreeningTest test, int index, DateOnly on)
        {
            (_found.NotPerformed, _found.NotPerformedOn) = (test.Reason, on);
            Note(index, new(TestUse.NotPerformed, ScreeningStage.Unstated, 0));
        }

        private void Attempt(in ScreeningTest test, int index, DateOnly on)
        {
            if (!_session.Takes(test, policy))
            {
                WeighSession();
                _screeningIsOver = _screeningIsOver || on > evaluatedFrom && _found.Refers;
                _session = new Session(_session.Number + 1, test, DeriveStage.Of(test, _stay, facts.Birth, policy));
            }

            _found.NotPerformed = ScreeningReason.None;
            var use = _screeningIsOver ? TestUse.AfterEvaluation
                : test.Ear == Ear.Right ? TakeResult(test, index, on, ref _found.Right, ref _session.Right)
                : TakeResult(test, index, on, ref _found.Left, ref _session.Left);
            Note(index, new(use, _session.Stage, _session.Number));
        }

        /// <summary>What a test says of its ear in this session. A valid result is replaced by the next one, until one counts.</summary>
        private TestUse TakeResult(in ScreeningTest test, int index, DateOnly on, ref EarStanding ear, ref EarInSession now)
        {
            ear.Attempted = true;
            if (test.Outcome == ScreeningOutcome.NoValidResult) return TestUse.NoValidResult;

            var by = EarStanding.TechnologyOf(test.Method);
            CountValid(test, on, by, ref ear);

            var before = now.IsValid ? now : ear.Standing;
            if (test.Outcome == ScreeningOutcome.Pass && by == Technology.Oae && before.IsAbrRefer && !policy.OaeMayClearAbrRefer)
            {
                _found.Flags |= StatusFlags.OaeAfterAbrRefer;
                now = before;
                return TestUse.OaeAfterAbrRefer;
            }

            now = new EarInSession(test.Outcome, by, index);
            return TestUse.Replaced;
        }

        private void CountValid(in ScreeningTest test, DateOnly on, Technology by, ref EarStanding ear)
        {
            if (!_anyValid && IsEarly(test, by)) _found.Flags |= StatusFlags.ScreenedEarly;
            _anyValid = true;
            _session.LastValidOn = on;
            if (_session.Stage == ScreeningStage.BirthAdmission) ear.CountAttempt(by);
            if (by == Technology.Abr) (ear.LastAbr, ear.LastAbrOn) = (test.Outcome, on);
        }

        private readonly bool IsEarly(in ScreeningTest test, Technology by)
        {
            var least = by == Technology.Abr ? policy.EarliestAbrHours : policy.EarliestOaeHours;
            return Age.Hours(facts.Birth, test.PerformedAt, policy.Zone) < least;
        }

        private readonly bool TooEarlyForAbr(in EarStanding ear) =>
            ear.Result is not null && ear.By == Technology.Abr
                && Age.PostMenstrualDays(facts.Birth, DateOnly.FromDateTime(facts.Tests[ear.Test].PerformedAt))
                    < 7 * policy.AbrReliableWeeks;

        /// <summary>The session is over: what of it counts. One without a valid result counts for nothing.</summary>
        private void WeighSession()
        {
            if (!_session.EitherEar) return;
            var isRescreen = _session.Stage == ScreeningStage.OutpatientRescreen
                && (_birthAdmissionWasValid || _found.CompleteOn is not null);
            if (_session.Stage == ScreeningStage.BirthAdmission) _birthAdmissionWasValid = true;

            var beyond = isRescreen && _found.Refers && _found.CompleteRescreens >= policy.MaxRescreens && !policy.FurtherRescreenMayClear;
            if (beyond) _session.Right = KeepRefer(_session.Right, _found.Right);
            if (beyond) _session.Left = KeepRefer(_session.Left, _found.Left);

            var (rightBefore, leftBefore) = (_found.Right.Result, _found.Left.Result);
            if (_session.BothEars) CountBothEars(isRescreen);
            else WeighOneEar(isRescreen);
            _found.ReferredOn = _found.Refers ? _found.ReferredOn ?? _session.LastValidOn : null;
            if (!_found.BothEarsCount) return;
            _found.CompleteOn ??= _session.LastValidOn;
            if (_session.BothEars && !beyond || _found.Right.Result != rightBefore || _found.Left.Result != leftBefore)
                _found.DecidedOn = _session.LastValidOn;
        }

        /// <summary>In a rescreen beyond those offered a pass does not clear an ear that refers.</summary>
        private readonly EarInSession KeepRefer(in EarInSession said, in EarStanding ear)
        {
            if (said.Result != ScreeningOutcome.Pass || !ear.Refers) return said;
            NoteUse(said.Test, TestUse.AfterReferredRescreen);
            return ear.Standing;
        }

        private void CountBothEars(bool isRescreen)
        {
            if (isRescreen)
            {
                if (!_found.Passed) _found.CompleteRescreens++;
                _found.Flags &= ~StatusFlags.RescreenNotBothEars;
            }

            _found.Right.Count(_session.Right);
            _found.Left.Count(_session.Left);
            _found.LastBothEarsOn = _session.LastValidOn;
        }

        /// <summary>A refer of one ear always counts; a pass only where the policy lets ears be combined across sessions, or where this
        /// ear had no result beside one that passed.</summary>
        private void WeighOneEar(bool isRescreen)
        {
            var (ear, other) = _session.Right.IsValid ? (_found.Right, _found.Left) : (_found.Left, _found.Right);
            var mayCombine = isRescreen
                ? policy.CombineEarsAcrossRescreens || ear.Result is null && other.Result == ScreeningOutcome.Pass
                : policy.CombineEarsInInitialScreen;
            var said = _session.Right.IsValid ? _session.Right : _session.Left;
            if (!mayCombine && said.Result == ScreeningOutcome.Pass) NoteUse(said.Test, TestUse.OneEarOnly);
            else if (_session.Right.IsValid) _found.Right.Count(said);
            else _found.Left.Count(said);
            if (isRescreen && !mayCombine) _found.Flags |= StatusFlags.RescreenNotBothEars;
        }

        private readonly void NoteWhatCounts(in EarStanding ear)
        {
            if (ear.Result is not null) NoteUse(ear.Test, TestUse.Counts);
        }

        private readonly void Note(int index, TestNote note)
        {
            if (!_notes.IsEmpty) _notes[index] = note;
        }

        private readonly void NoteUse(int index, TestUse use)
        {
            if (!_notes.IsEmpty) _notes[index] = _notes[index] with { Use = use };
        }
    }
}
