using Registry.Records;

namespace Registry.Demo;

/// <summary>From the first test to the diagnosis.</summary>
internal sealed partial class ImagineFamily
{
    /// <summary>What the path remembers of the screening so far.</summary>
    private sealed class Screening
    {
        public bool Missed { get; set; }
        public bool RightPassed { get; set; }
        public bool LeftPassed { get; set; }

        /// <summary>Ears still full of fluid or debris at the last session: they refer without a loss.</summary>
        public bool RightBlocked { get; set; }
        public bool LeftBlocked { get; set; }
        public bool Sessions { get; set; }
        public bool Passed => RightPassed && LeftPassed;
    }

    /// <summary>Share of infants a first emissions screen refers, by age in hours: passes 53.7 % before 24, 80.1 % to 36, 92.6 % to 48,
    /// 99.3 % later (Am J Perinatol 2025, 10.1055/a-2675-1768; F). Taken at four tenths, because screeners try again before they record
    /// (P); under 12 hours more than the published band's average (O). Comes to about 10 %: 9.6 % in Pediatr Res 1998, 9.93 % in Front
    /// Pediatr 2021 (F).</summary>
    private static double EmissionsRefer(double hours) =>
        .42 * (hours < 12 ? .62 : hours < 24 ? .42 : hours < 36 ? .199 : hours < 48 ? .074 : .03);

    /// <summary>Automated brainstem response: about 3 % refer at a mean of 15 hours (Semin Hear 1999;20:291; F), fewer later (P).</summary>
    private static double AabrRefers(double hours) => hours < 24 ? .032 : .02;

    /// <summary>Share of blocked ears that stay so until a second session before discharge: an emissions screen and then a brainstem
    /// response bring 9.6 % to 2.8 % (Pediatr Res 1998; F); a second emissions screen finds more of them still blocked, most of all on the
    /// first day (O).</summary>
    private static double StaysBlocked(bool aabr, double hours) => aabr ? .29 : hours < 24 ? .55 : .35;

    /// <summary>The same until the outpatient rescreen, two weeks later (O).</summary>
    private const double StaysBlockedWeeks = .30;

    private void ScreenBeforeDischarge(Infant infant, Screening screen)
    {
        var site = infant.ScreeningSite;
        if (dice.Chance(RefusalShare))
        {
            _reports.Add(site, RowKind.Refusal, infant.DischargedAt, infant, "refused_on", ("step", "screening"), ("refused_by", "parent"));
            screen.Missed = true;
            return;
        }

        if (dice.Chance(MissedShare) && infant.NicuDays == 0)
        {
            foreach (var ear in new[] { "right", "left" })
                _reports.Add(site, RowKind.Screening, infant.DischargedAt, infant,
                    ("ear", ear), ("outcome", "not_performed"), ("reason", "discharged_before_screen"),
                    ("performed_at", Report.Moment(infant.DischargedAt)));
            screen.Missed = true;
            return;
        }

        var hours = infant.NicuDays > 0 ? infant.NicuDays * 24 - 12 : Math.Max(4, dice.LogNormal(site.MedianHours, .35));
        var at = Reporting.After(infant.BornAt, hours);
        if (infant.NicuDays == 0 && at > infant.DischargedAt.AddHours(-1) && !infant.BornAtHome)
        {
            at = infant.DischargedAt.AddHours(-1);
            hours = (at - infant.BornAt).TotalHours;
        }

        if (at >= infant.GoneAt || at <= infant.BornAt) return;
        var aabr = infant.NicuDays > 0 || site.Protocol == Protocol.Aabr;
        Session(infant, site, screen, at, aabr ? "aabr" : site.Emissions, aabr ? AabrRefers(hours) : EmissionsRefer(hours));
        var second = at.AddHours(dice.Between(6, 12));
        if (screen.Passed || second > infant.DischargedAt.AddMinutes(-20) || second >= infant.GoneAt) return;
        aabr |= site.Protocol == Protocol.OaeThenAabr;
        Session(infant, site, screen, second, aabr ? "aabr" : site.Emissions, StaysBlocked(aabr, (second - infant.BornAt).TotalHours));
    }

    /// <summary>Both ears once; a test without a valid result is mostly repeated, once.</summary>
    /// <param name="infant">Who.</param>
    /// <param name="site">Where.</param>
    /// <param name="screen">The screening so far.</param>
    /// <param name="at">When.</param>
    /// <param name="method">Its code.</param>
    /// <param name="blocked">First session: probability that an infant has a blocked ear; later: that a blocked ear still is.</param>
    /// <param name="outpatient">After discharge.</param>
    private void Session(Infant infant, Place site, Screening screen, DateTime at, string method, double blocked, bool outpatient = false)
    {
        var with = Equipment.Draw(dice, site);
        var leak = Leak(site, with, at);
        var noisy = site.Code == Places.NoisySite && with.Screener == Places.NoisyScreener;
        if (!screen.Sessions)
        {
            var one = dice.Chance(blocked);
            var (both, right) = (dice.Chance(.4), dice.Chance(.5));
            (screen.RightBlocked, screen.LeftBlocked) = (one && (both || right), one && (both || !right));
            screen.Sessions = true;
        }
        else
        {
            screen.RightBlocked &= dice.Chance(blocked);
            screen.LeftBlocked &= dice.Chance(blocked);
        }

        foreach (var ear in new[] { "right", "left" })
        {
            var right = ear == "right";
            var minute = right ? 0 : 4;
            if (dice.Chance(noisy ? .62 : .035 + leak)) // invalid rates: O, there is no published benchmark
            {
                var reason = noisy ? "noise" : leak > 0 ? "no_seal"
                    : dice.Of<string>(["noise", "no_seal", "infant_unsettled", "noise", "no_seal", "equipment_fault"]);
                _reports.Test(infant, site, at.AddMinutes(minute), ear, "no_valid_result", method, reason, with, outpatient);
                if (dice.Chance(noisy ? .5 : .08)) continue;
                minute += 15;
            }

            var refers = right ? screen.RightBlocked : screen.LeftBlocked;
            refers = (right ? infant.LossRight : infant.LossLeft) ? !dice.Chance(.02) : refers | dice.Chance(LeakRefers * leak);
            _reports.Test(infant, site, at.AddMinutes(minute), ear, refers ? "refer" : "pass", method, null, with, outpatient);
            if (right) screen.RightPassed = !refers;
            else screen.LeftPassed = !refers;
        }
    }

    /// <summary>Share of ears that refer without a loss, of the share that lose the seal (O: refers rise more than threefold).</summary>
    private const double LeakRefers = .65;

    /// <summary>Story 1: from its week on the probe leaks a little more every week, until its tip is changed.</summary>
    private double Leak(Place site, Equipment with, DateTime at)
    {
        var before = anchor.DayNumber - DateOnly.FromDateTime(at).DayNumber;
        return site.Code == Places.LeakingSite && with.Probe == Places.LeakingProbe
            && before is <= Places.LeakingDays and > Places.MendedDays ? Math.Min(.45, .08 + .03 * ((Places.LeakingDays - before) / 7)) : 0;
    }

    private void AfterDischarge(Infant infant, Screening screen)
    {
        if (infant.DischargedAt >= infant.GoneAt) return;
        var lostShare = Places.LostShare[infant.Site.County];
        if (screen.Missed)
        {
            var late = AtOffice(infant.DischargedAt.AddDays(dice.Between(6, 40)));
            var found = dice.Chance(.6 * (1 - lostShare));
            Contact(infant, "screening", infant.BornAt.AddDays(dice.Between(5, 20)), found, 2);
            if (!found || late >= infant.GoneAt) return;
            Session(infant, infant.Site, screen, late, infant.Site.Emissions, .04, outpatient: true);
        }

        if (screen.Passed)
        {
            Surveillance(infant, lostShare);
            return;
        }

        var straight = infant.NicuDays > 5;
        if (!straight)
        {
            var comes = !dice.Chance(lostShare * .3);
            var rescreen = AtOffice(infant.DischargedAt.AddDays((int)dice.LogNormal(13, .4)));
            Contact(infant, "screening", infant.DischargedAt.AddDays(dice.Between(2, 6)), comes, 1);
            if (!comes)
            {
                Contact(infant, "screening", infant.BornAt.AddDays(dice.Between(25, 40)), false, 2);
                if (dice.Chance(.75)) Contact(infant, "diagnosis", infant.BornAt.AddDays(dice.Between(60, 80)), false, 2);
            }

            if (!comes || rescreen >= infant.GoneAt) return;
            Session(infant, infant.Site, screen, rescreen, infant.Site.Protocol == Protocol.Oae ? infant.Site.Emissions : "aabr",
                StaysBlockedWeeks, outpatient: true);
        }

        if (!screen.Passed) Diagnose(infant, !dice.Chance(lostShare));
    }

    private void Diagnose(Infant infant, bool comes)
    {
        var clinic = Places.ClinicOf(infant.Site.County);
        var from = infant.DischargedAt.AddDays(dice.Between(28, 40));
        Contact(infant, "diagnosis", from, comes, 2);
        // Median age at diagnosis 68 days (nine states 2017, PMC8436596; F).
        var visit = AtOffice(infant.BornAt.AddDays((int)Math.Clamp(dice.LogNormal(62, .42), 20, 400)));
        if (visit < infant.DischargedAt.AddDays(7)) visit = AtOffice(infant.DischargedAt.AddDays(10));
        // No final diagnosis before term (37 weeks; M).
        var term = infant.BornAt.AddDays(7 * (37 - infant.GestationWeeks) + 1);
        if (visit < term) visit = AtOffice(term);
        if (!comes || visit >= infant.GoneAt) return;
        if (dice.Chance(.04))
        {
            _reports.Add(Places.Office, RowKind.Refusal, visit, infant, "refused_on", ("step", "diagnosis"), ("refused_by", "parent"));
            return;
        }

        if (dice.Chance(.12))
        {
            _reports.Evaluation(infant, clinic, visit, "inconclusive", "inconclusive", "not_stated", provisional: true);
            visit = AtOffice(visit.AddDays(dice.Between(20, 50)));
            if (dice.Chance(.2) || visit >= infant.GoneAt) return;
        }

        if (infant.PermanentLoss)
        {
            var type = dice.Chance(.1) ? "auditory_neuropathy" : dice.Chance(.12) ? "mixed" : "sensorineural";
            var degree = dice.Of<string>(["mild", "moderate", "moderate", "moderately_severe", "severe", "profound"]);
            _reports.Evaluation(infant, clinic, visit, infant.LossRight ? type : "normal", infant.LossLeft ? type : "normal", degree);
            Intervene(infant, visit);
            return;
        }

        var conductive = dice.Chance(.12); // O
        _reports.Evaluation(infant, clinic, visit, conductive ? "conductive" : "normal", conductive
            && dice.Chance(.5) ? "conductive" : "normal", "mild");

        // After effusion 56 % never get a definitive result (10.1002/ohn.306; F).
        var again = AtOffice(visit.AddDays(dice.Between(50, 100)));
        if (conductive && dice.Chance(.44) && again < infant.GoneAt)
            _reports.Evaluation(infant, clinic, again, "normal", "normal", "not_stated");
    }

    /// <summary>The office's attempts to reach a family; in one county they mostly fail (story 7).</summary>
    private void Contact(Infant infant, string step, DateTime first, bool reached, int attempts)
    {
        var unreachable = dice.Chance(infant.Site.County == Places.UnreachableCounty ? .85 : .25);
        if (unreachable && !reached) attempts++;
        for (var i = 0; i < attempts; i++)
        {
            var at = AtOffice(first.AddDays(14 * i));
            if (at >= infant.GoneAt) return;
            var outcome = reached ? i == attempts - 1 ? "appointment_made" : "reached"
                : unreachable ? "unable_to_contact"
                : "no_response";
            _reports.Contact(infant, at, step, outcome);
        }
    }

    private DateTime AtOffice(DateTime at)
    {
        var day = at.Date.AddDays(at.DayOfWeek switch { DayOfWeek.Saturday => 2, DayOfWeek.Sunday => 1, _ => 0 });
        return day.AddHours(9 + dice.Between(0, 6)).AddMinutes(15 * dice.Between(0, 3));
    }
}
