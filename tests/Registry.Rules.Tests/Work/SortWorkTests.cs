using Registry.Rules.Facts;
using Registry.Rules.Tests.Oracle;
using Registry.Rules.Work;
using Xunit;

namespace Registry.Rules.Tests.Work;

/// <summary>Where an infant stands in the work of a day, and before whom. The order and its weights are the program's own choice; no
/// published rule orders calls.</summary>
public sealed class SortWorkTests
{
    private static readonly DateOnly Born = new(2026, 3, 10);

    /// <summary>A refer in the right ear two days after birth: a diagnosis is due three months after birth, on 10 June.</summary>
    private static InfantFacts Referred(bool bothEars = false) => new()
    {
        Birth = new(Born, new(8, 0)) { DischargedOn = Born.AddDays(2) },
        Tests =
        [
            Test(Ear.Right, ScreeningOutcome.Refer, 1), Test(Ear.Left, bothEars ? ScreeningOutcome.Refer : ScreeningOutcome.Pass, 1),
            Test(Ear.Right, ScreeningOutcome.Refer, 20), Test(Ear.Left, bothEars ? ScreeningOutcome.Refer : ScreeningOutcome.Pass, 20),
        ],
    };

    [Fact]
    public void What_follows_a_refer_is_called_about_at_once()
    {
        var place = On(Referred(), 25)!;
        Assert.Equal((WorkTray.CallToday, DueStep.DiagnosticEvaluation), (place.Tray, place.Step));
        Assert.Equal([new WorkReason(WorkReasonKind.MilestoneUntil, new(2026, 6, 10))], place.Reasons);
    }

    [Fact]
    public void A_newborn_is_the_wards_until_some_days_before_the_milestone_ends()
    {
        var facts = new InfantFacts { Birth = new(Born, new(8, 0)) };
        Assert.Equal(WorkTray.NotYet, On(facts, 16)!.Tray);
        Assert.Equal(Born.AddDays(17), On(facts, 16)!.ChangesOn);
        Assert.Equal(WorkTray.CallToday, On(facts, 17)!.Tray); // due on 10 April, day 31; work from 14 days before
    }

    [Fact]
    public void Nothing_due_is_no_work() => Assert.Null(On(new()
    {
        Birth = new(Born, new(8, 0)),
        Tests = [Test(Ear.Right, ScreeningOutcome.Pass, 1), Test(Ear.Left, ScreeningOutcome.Pass, 1)],
    }, 25));

    [Theory]
    [InlineData(ContactOutcome.NoResponse, null, 33)] // three days after the try
    [InlineData(ContactOutcome.UnableToContact, null, 33)]
    [InlineData(ContactOutcome.Reached, null, 44)]
    [InlineData(ContactOutcome.NoResponse, 50, 50)] // as set
    [InlineData(ContactOutcome.Reached, 31, 31)]
    public void A_family_that_was_tried_waits_for_its_call_back(ContactOutcome outcome, int? again, int comesBack)
    {
        var facts = Referred() with { ContactAttempts = [Try(outcome, 30, again)] };
        var place = On(facts, 30)!;
        Assert.Equal((WorkTray.CallBack, Born.AddDays(comesBack)), (place.Tray, place.ChangesOn));
        Assert.Equal(WorkTray.CallBack, On(facts, comesBack - 1)!.Tray);
        Assert.Equal(WorkTray.CallToday, On(facts, comesBack)!.Tray);
    }

    [Fact]
    public void An_infant_put_off_comes_back_by_itself()
    {
        var until = new PutOff(Born.AddDays(40), PutOffReason.FamilyAsked);
        Assert.Equal(WorkTray.CallBack, On(Referred(), 39, until)!.Tray);
        Assert.Equal(WorkTray.CallToday, On(Referred(), 40, until)!.Tray);
    }

    [Fact]
    public void A_hand_off_is_waited_for_and_not_acknowledged_in_its_time_it_is_work_again()
    {
        var silent = new HandedOff(Born.AddDays(37), null);
        var waits = On(Referred(), 30, handedOff: silent)!;
        Assert.Equal((WorkTray.CallBack, new WorkReason(WorkReasonKind.HandedOff, Born.AddDays(37)), (DateOnly?)Born.AddDays(38)),
            (waits.Tray, waits.Reasons[0], waits.ChangesOn));
        Assert.Equal(WorkTray.CallBack, On(Referred(), 37, handedOff: silent)!.Tray);
        var again = On(Referred(), 38, handedOff: silent)!;
        Assert.Equal(WorkTray.CallToday, again.Tray);
        Assert.Equal(new(WorkReasonKind.NotAcknowledged, Born.AddDays(37)), again.Reasons[0]);
        // Neither a call set before nor a step not yet due keeps it from being work; a try after it does, for its days.
        var called = Referred() with { ContactAttempts = [Try(ContactOutcome.Reached, 29, 60)] };
        Assert.Equal(WorkTray.CallToday, On(called, 38, handedOff: silent)!.Tray);
        called = Referred() with { ContactAttempts = [Try(ContactOutcome.NoResponse, 38)] };
        Assert.Equal((WorkTray.CallBack, WorkTray.CallToday),
            (On(called, 40, handedOff: silent)!.Tray, On(called, 41, handedOff: silent)!.Tray));
        Assert.DoesNotContain(On(called, 41, handedOff: silent)!.Reasons, r => r.Kind == WorkReasonKind.NotAcknowledged);
    }

    [Fact]
    public void An_acknowledged_hand_off_is_waited_for_as_after_a_family_that_was_reached()
    {
        var taken = new HandedOff(Born.AddDays(37), Born.AddDays(31));
        Assert.Equal(WorkTray.CallBack, On(Referred(), 31, handedOff: taken)!.Tray);
        Assert.Equal(WorkTray.CallBack, On(Referred(), 31 + Policy.Default.CallBackDays - 1, handedOff: taken)!.Tray);
        Assert.Equal(WorkTray.CallToday, On(Referred(), 31 + Policy.Default.CallBackDays, handedOff: taken)!.Tray);
        // What is booked, or was put off by a person, comes first.
        var booked = Referred() with { Appointments = [At(AppointmentEvent.Made, 45, 30)] };
        Assert.Equal(WorkTray.AppointmentBooked, On(booked, 31, handedOff: taken)!.Tray);
        Assert.Equal(WorkReasonKind.PutOff,
            On(Referred(), 32, new PutOff(Born.AddDays(40), PutOffReason.FamilyAsked), taken)!.Reasons[0].Kind);
    }

    [Fact]
    public void An_appointment_is_booked_until_its_day_has_passed_and_then_asks_for_its_result()
    {
        var facts = Referred() with
        {
            Appointments = [At(AppointmentEvent.Made, 45, 30)],
            ContactAttempts = [Try(ContactOutcome.AppointmentMade, 30)],
        };
        Assert.Equal(WorkTray.CallToday, On(facts, 29)!.Tray);
        Assert.Equal(WorkTray.AppointmentBooked, On(facts, 30)!.Tray);
        Assert.Equal(WorkTray.AppointmentBooked, On(facts, 45)!.Tray);
        Assert.Equal(WorkTray.ResultAwaited, On(facts, 46)!.Tray);
        Assert.Equal(WorkTray.ResultAwaited, On(facts, 200)!.Tray); // also when it is late, until somebody says what came of it
        facts = facts with
        {
            Evaluations = [new(Born.AddDays(45), EarFinding.Sensorineural, EarFinding.Normal) { Provisional = true }],
        };
        Assert.NotEqual(WorkTray.ResultAwaited, On(facts, 46)?.Tray);
    }

    [Theory]
    [InlineData(AppointmentEvent.Cancelled, 40, WorkTray.CallToday)]
    [InlineData(AppointmentEvent.NoShow, 45, WorkTray.CallToday)]
    [InlineData(AppointmentEvent.Kept, 45, WorkTray.ResultAwaited)]
    public void What_became_of_an_appointment_moves_the_infant(AppointmentEvent became, int day, WorkTray tray)
    {
        var facts = Referred() with { Appointments = [At(AppointmentEvent.Made, 45, 30), At(became, 45, day)] };
        var place = On(facts, 47)!;
        Assert.Equal(tray, place.Tray);
        Assert.Equal(became == AppointmentEvent.NoShow, place.Reasons.Contains(new(WorkReasonKind.NoShow, Born.AddDays(45))));
    }

    [Fact]
    public void An_appointment_that_is_moved_counts_on_its_new_day()
    {
        var facts = Referred() with
        {
            Appointments = [At(AppointmentEvent.Made, 45, 30), At(AppointmentEvent.Moved, 45, 40), At(AppointmentEvent.Made, 52, 40)],
        };
        Assert.Equal((WorkTray.AppointmentBooked, new WorkReason(WorkReasonKind.AppointmentOn, Born.AddDays(52))),
            (On(facts, 50)!.Tray, On(facts, 50)!.Reasons[0]));
        // Canceled, and booked for the same day again later.
        facts = Referred() with
        {
            Appointments = [At(AppointmentEvent.Made, 45, 30), At(AppointmentEvent.Cancelled, 45, 35), At(AppointmentEvent.Made, 45, 36)],
        };
        Assert.Equal(WorkTray.CallToday, On(facts, 35)!.Tray);
        Assert.Equal(WorkTray.AppointmentBooked, On(facts, 36)!.Tray);
    }

    [Fact]
    public void Somebody_reached_is_lost_no_more_for_a_while()
    {
        Assert.Equal(WorkTray.SearchAgain, On(Referred(), 300)!.Tray);
        var facts = Referred() with { ContactAttempts = [Try(ContactOutcome.Reached, 300)] };
        Assert.Equal(WorkTray.CallBack, On(facts, 300)!.Tray);
        Assert.Equal(WorkTray.CallToday, On(facts, 314)!.Tray);
        Assert.Equal(WorkTray.CallToday, On(facts, 330)!.Tray);
        Assert.Equal(WorkTray.SearchAgain, On(facts, 331)!.Tray);
        facts = Referred() with { ContactAttempts = [Try(ContactOutcome.NoResponse, 300)] };
        Assert.Equal(WorkTray.SearchAgain, On(facts, 303)!.Tray);
    }

    [Fact]
    public void Somebody_searched_for_in_vain_waits_and_one_with_a_new_phone_is_called()
    {
        var (facts, on) = (Referred(), Born.AddDays(300));
        var inVain = new WorkDecisions { Searched = new(on, BroughtContact: false) };
        var place = On(facts, 300, decided: inVain)!;
        Assert.Equal((WorkTray.CallBack, on.AddDays(30)), (place.Tray, place.ChangesOn));
        Assert.Equal([new WorkReason(WorkReasonKind.SearchedFor, on.AddDays(30))], place.Reasons);
        Assert.Equal(WorkTray.SearchAgain, On(facts, 330, decided: inVain)!.Tray);

        var brought = new WorkDecisions { Searched = new(on, BroughtContact: true) };
        place = On(facts, 300, decided: brought)!;
        Assert.Equal(WorkTray.CallToday, place.Tray);
        Assert.Contains(new(WorkReasonKind.ContactFound, on), place.Reasons);
        // Tried in vain since: it waits out the days of the search like any other.
        facts = facts with { ContactAttempts = [Try(ContactOutcome.NoResponse, 310)] };
        Assert.Equal(WorkTray.CallBack, On(facts, 314, decided: brought)!.Tray);
        Assert.Equal(WorkTray.SearchAgain, On(facts, 330, decided: brought)!.Tray);
    }

    [Fact]
    public void Closed_work_stays_closed_until_something_comes_of_that_step_or_another_is_due()
    {
        var (facts, closed) = (Referred(), new WorkDecisions { Closed = new(PathStep.Diagnosis, Born.AddDays(300)) });
        Assert.Equal(WorkTray.Closed, On(facts, 300, decided: closed)!.Tray);
        Assert.Equal(WorkTray.Closed, On(facts, 700, decided: closed)!.Tray);
        Assert.Equal(WorkTray.SearchAgain, On(facts, 300, decided: new() { Closed = new(PathStep.Intervention, Born.AddDays(300)) })!.Tray);
        foreach (var (outcome, day, tray) in new[] { (ContactOutcome.NoResponse, 310, WorkTray.Closed),
            (ContactOutcome.Reached, 310, WorkTray.CallBack), (ContactOutcome.Reached, 290, WorkTray.Closed) })
            Assert.Equal(tray, On(facts with { ContactAttempts = [Try(outcome, day)] }, 320, decided: closed)!.Tray);
        Assert.NotEqual(WorkTray.Closed, On(facts with { Tests = [.. facts.Tests, Test(Ear.Right, ScreeningOutcome.Refer, 310)] }, 320,
            decided: closed)!.Tray);
    }

    [Fact]
    public void A_visit_years_later_is_monitoring_and_not_in_the_way()
    {
        var facts = new InfantFacts
        {
            Birth = new(Born, new(8, 0)),
            Tests = [Test(Ear.Right, ScreeningOutcome.Pass, 1), Test(Ear.Left, ScreeningOutcome.Pass, 1)],
            RiskIndicators = [new(RiskIndicatorKind.FamilyHistory, Born)],
        };
        var due = On(facts, 10)!;
        Assert.Equal(WorkTray.NotYet, due.Tray);
        var soon = due.DueOn.DayNumber - Born.DayNumber - Policy.Default.WorkAheadDays;
        Assert.Equal(WorkTray.NotYet, On(facts, soon - 1)!.Tray);
        Assert.Equal(WorkTray.Monitoring, On(facts, soon)!.Tray);
    }

    [Fact]
    public void First_comes_the_milestone_that_ends_soonest_then_both_ears_and_risk_and_tries_count()
    {
        var plain = On(Referred(), 40)!;
        var both = On(Referred(bothEars: true), 40)!;
        var risk = On(Referred() with { RiskIndicators = [new(RiskIndicatorKind.FamilyHistory, Born)] }, 40)!;
        var nicu = On(Referred() with { RiskIndicators = [new(RiskIndicatorKind.NicuOverFiveDays, Born)] }, 40)!;
        var tried = On(Referred() with { ContactAttempts = [Try(ContactOutcome.NoResponse, 30), Try(ContactOutcome.NoResponse, 35)] }, 40)!;
        Assert.True(both.Rank < risk.Rank && risk.Rank < plain.Rank && plain.Rank < tried.Rank);
        Assert.Equal(risk.Rank, nicu.Rank);
        Assert.Contains(new(WorkReasonKind.BothEars, null, 14), both.Reasons);
        Assert.Contains(new(WorkReasonKind.TriesWithoutAnswer, null, -4), tried.Reasons);
        Assert.True(On(Referred(bothEars: true) with { Birth = new(Born.AddDays(14), new(8, 0)) }, 40)!.Rank >= plain.Rank);
    }

    [Fact]
    public void Between_equals_who_was_tried_longest_ago_comes_first()
    {
        var long_ = On(Referred() with { ContactAttempts = [Try(ContactOutcome.NoResponse, 25)] }, 40)!;
        var lately = On(Referred() with { ContactAttempts = [Try(ContactOutcome.NoResponse, 36)] }, 40)!;
        Assert.True(long_.Rank < lately.Rank);
    }

    [Fact]
    public void The_longest_overdue_is_never_first()
    {
        var ahead = On(Referred(), 40)!;
        var missedLately = On(Referred() with { ContactAttempts = [Try(ContactOutcome.Reached, 80, 95)] }, 96)!;
        var missedLongAgo = On(Referred(), 700)!;
        Assert.Contains(missedLately.Reasons, r => r.Kind == WorkReasonKind.PassedOn);
        Assert.True(ahead.Rank < missedLately.Rank);
        // The same milestone passed for both: the one born later, whose passed later, is first.
        var younger = Referred() with { Birth = new(Born.AddDays(120), new(8, 0)), Tests = [] };
        Assert.True(On(younger, 700)!.Rank < missedLongAgo.Rank);
    }

    [Fact]
    public void The_order_facts_came_in_does_not_matter()
    {
        var facts = Referred() with
        {
            ContactAttempts = [Try(ContactOutcome.NoResponse, 30), Try(ContactOutcome.Reached, 30, 60), Try(ContactOutcome.NoResponse, 20)],
            Appointments = [At(AppointmentEvent.Made, 45, 30), At(AppointmentEvent.Moved, 45, 40), At(AppointmentEvent.Made, 52, 40)],
        };
        var turned = facts with
        {
            ContactAttempts = [.. facts.ContactAttempts.Reverse()],
            Appointments = [.. facts.Appointments.Reverse()],
        };
        for (var day = 20; day < 120; day++) AssertSame(On(facts, day)!, On(turned, day)!, $"day {day}");
    }

    [Fact]
    public void Until_the_day_of_its_change_a_place_stays_what_it_is()
    {
        var generated = new GeneratedInfants(17);
        var random = new Random(17);
        var trays = new HashSet<WorkTray>();
        for (var i = 0; i < 1_500; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            facts = facts with { Appointments = Invented(random, asOf) };
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            var decided = new WorkDecisions
            {
                HandedOff = Handed(random, asOf),
                Searched = random.Next(3) > 0 ? null : new(asOf.AddDays(-random.Next(60)), random.Next(2) == 0),
                Closed = random.Next(4) > 0 ? null : new((PathStep)random.Next(3), asOf.AddDays(-random.Next(60))),
            };
            if (SortWork.Place(facts, status, policy, asOf, decided) is not { } place) continue;
            trays.Add(place.Tray);
            var until = new[] { status.NextChangeOn, place.ChangesOn, asOf.AddDays(200) }.Min()!.Value;
            for (var day = asOf.AddDays(1); day < until; day = day.AddDays(1))
                AssertSame(place, SortWork.Place(facts, status, policy, day, decided)!,
                    $"infant {i}, {day}, before {until}");
        }

        Assert.Equal(Enum.GetValues<WorkTray>().Except([WorkTray.CallBack]).Order(), trays.Except([WorkTray.CallBack]).Order());
    }

    private static HandedOff? Handed(Random random, DateOnly asOf) => random.Next(3) > 0 ? null
        : new(asOf.AddDays(random.Next(-20, 20)), random.Next(2) == 0 ? null : asOf.AddDays(-random.Next(20)));

    private static Appointment[] Invented(Random random, DateOnly asOf) => random.Next(3) > 0 ? [] :
        [.. Enumerable.Range(0, 1 + random.Next(3)).Select(_ => new Appointment(
            (PathStep)random.Next(3), asOf.AddDays(random.Next(-40, 40)), (AppointmentEvent)random.Next(5),
            asOf.AddDays(-random.Next(40))))];

    private static void AssertSame(WorkPlace expected, WorkPlace actual, string where)
    {
        Assert.True((expected.Tray, expected.Step, expected.DueOn, expected.Rank) == (actual.Tray, actual.Step, actual.DueOn, actual.Rank),
            $"{where}: {expected} is {actual}");
        Assert.Equal(expected.Reasons, actual.Reasons);
    }

    private static WorkPlace? On(
        InfantFacts facts, int day, PutOff? putOff = null, HandedOff? handedOff = null, WorkDecisions? decided = null)
    {
        var asOf = Born.AddDays(day);
        return SortWork.Place(facts, EvaluateInfant.Evaluate(facts, Policy.Default, asOf), Policy.Default, asOf,
            decided ?? new WorkDecisions { PutOff = putOff, HandedOff = handedOff });
    }

    private static ScreeningTest Test(Ear ear, ScreeningOutcome outcome, int day) =>
        new(ear, outcome, Born.AddDays(day).ToDateTime(new(10, 0))) { Method = ScreeningMethod.Aabr };

    private static ContactAttempt Try(ContactOutcome outcome, int day, int? again = null) =>
        new(PathStep.Diagnosis, Born.AddDays(day), outcome) { CallAgainOn = again is { } d ? Born.AddDays(d) : null };

    private static Appointment At(AppointmentEvent kind, int on, int happened) =>
        new(PathStep.Diagnosis, Born.AddDays(on), kind, Born.AddDays(happened));
}
