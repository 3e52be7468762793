using Registry.Records;

namespace Registry.Demo;

/// <summary>From the first test to early intervention.</summary>
internal sealed partial class ImagineFamily
{
    /// <summary>What the path remembers of the screening so far.</summary>
    private sealed class Screening
    {
        public bool Missed { get; set; }
        public bool RightPassed { get; set; }
        public bool LeftPassed { get; set; }
        public DateTime LastAt { get; set; }
        public bool Passed => RightPassed && LeftPassed;
    }

    /// <summary>Share of infants an emissions screen refers, by age in hours: passes 53.7 % before 24, 80.1 % to 36, 92.6 % to 48, 99.3 % later
    /// (Am J Perinatol 2025, 10.1055/a-2675-1768; F), softened because experienced screeners repeat before recording (P).</summary>
    private static double OaeRefers(double hours) => 0.55 * (hours < 24 ? .463 : hours < 36 ? .199 : hours < 48 ? .074 : .02);

    /// <summary>Automated brainstem response: about 3 % refer at a mean of 15 hours (Semin Hear 1999;20:291; F), fewer later (P).</summary>
    private static double AabrRefers(double hours) => hours < 24 ? .03 : .015;

    private void ScreenBeforeDischarge(Infant infant, Screening screen)
    {
        var site = infant.ScreeningSite;
        if (_dice.Chance(RefusalShare))
        {
            Add(site.Code, RowKind.Refusal, infant.DischargedAt, infant, site == infant.Site, ("step", "screening"), ("refused_on", Report.Day(DateOnly.FromDateTime(infant.DischargedAt))), ("refused_by", "parent"));
            screen.Missed = true;
            return;
        }

        if (_dice.Chance(MissedShare) && infant.NicuDays == 0)
        {
            foreach (var ear in new[] { "right", "left" })
                Add(site.Code, RowKind.Screening, infant.DischargedAt, infant, true,
                    ("ear", ear), ("outcome", "not_performed"), ("reason", "discharged_before_screen"), ("performed_at", Report.Moment(infant.DischargedAt)));
            screen.Missed = true;
            return;
        }

        var hours = infant.NicuDays > 0 ? infant.NicuDays * 24 - 12 : Math.Max(4, _dice.LogNormal(site.MedianHours, .35));
        var at = infant.BornAt.AddHours(hours);
        if (infant.NicuDays == 0 && at > infant.DischargedAt.AddHours(-1) && site.Kind != SiteKind.Midwife) at = infant.DischargedAt.AddHours(-1);
        if (at >= infant.GoneAt) return;
        var aabr = infant.NicuDays > 0 || site.Protocol == Protocol.Aabr;
        Session(infant, site, screen, at, aabr ? "aabr" : Emissions(site), aabr ? AabrRefers(hours) : OaeRefers(hours));
        var second = at.AddHours(_dice.Between(6, 12));
        if (screen.Passed || second > infant.DischargedAt.AddHours(1) || second >= infant.GoneAt) return;
        var secondAabr = aabr || site.Protocol == Protocol.OaeThenAabr;
        Session(infant, site, screen, second, secondAabr ? "aabr" : Emissions(site), secondAabr ? .18 : .30);
    }

    private static string Emissions(Place site) => site.Code.Length % 2 == 0 ? "teoae" : "dpoae";

    /// <summary>Both ears once; a test without a valid result is repeated once.</summary>
    private void Session(Infant infant, Place site, Screening screen, DateTime at, string method, double refers)
    {
        var instrument = _dice.Of(site.Instruments);
        var probe = _dice.Of(site.Probes);
        var screener = _dice.Of(site.Screeners);
        var leaking = site.Code == Places.LeakingSite && probe == Places.LeakingProbe && at > anchor.AddDays(-120).ToDateTime(TimeOnly.MinValue);
        var noisy = site.Code == Places.NoisySite && screener == Places.NoisyScreener;
        if (leaking) refers = Math.Min(.9, refers + .12);
        var fluid = _dice.Chance(refers);
        var fluidBoth = fluid && _dice.Chance(.4);
        var fluidRight = _dice.Chance(.5);
        foreach (var ear in new[] { "right", "left" })
        {
            var right = ear == "right";
            var invalid = noisy ? .62 : leaking ? .28 : .035;
            var minute = right ? 0 : 4;
            if (_dice.Chance(invalid))
            {
                var reason = noisy ? "noise" : leaking ? "no_seal" : _dice.Of<string>(["noise", "no_seal", "infant_unsettled", "noise", "no_seal", "equipment_fault"]);
                Test(at.AddMinutes(minute), "no_valid_result", reason);
                if (_dice.Chance(noisy ? .5 : .08)) continue;
                minute += 15;
            }

            var lost = right ? infant.LossRight : infant.LossLeft;
            var refer = lost ? !_dice.Chance(.02) : fluidBoth || (fluid && fluidRight == right);
            Test(at.AddMinutes(minute), refer ? "refer" : "pass", null);
            if (right) screen.RightPassed = !refer;
            else screen.LeftPassed = !refer;

            void Test(DateTime when, string outcome, string? because)
            {
                screen.LastAt = when;
                (string, string)[] why = because is null ? [] : [("reason", because)];
                Add(site.Code, RowKind.Screening, when, infant, site == infant.Site,
                    [("ear", ear), ("outcome", outcome), ("method", method), ("performed_at", Report.Moment(when)),
                        ("instrument", instrument), ("probe", probe), ("screener", screener), .. why]);
            }
        }
    }

    private void AfterDischarge(Infant infant, Screening screen)
    {
        var lostShare = Places.LostShare[infant.Site.County];
        if (screen.Missed)
        {
            var late = infant.DischargedAt.AddDays(_dice.Between(8, 45));
            Contact(infant, "screening", infant.BornAt.AddDays(35), !_dice.Chance(lostShare), infant.BornAt.AddDays(60));
            if (!_dice.Chance(.55) || late >= infant.GoneAt) return;
            Session(infant, infant.Site, screen, late, Emissions(infant.Site), .03);
        }

        if (screen.Passed) return;
        var comesBack = !_dice.Chance(lostShare * .5);
        var straight = infant.NicuDays > 5;
        if (!straight)
        {
            var rescreen = infant.DischargedAt.AddDays(_dice.LogNormal(13, .45));
            if (comesBack && rescreen < infant.GoneAt)
                Session(infant, infant.Site, screen, AtOffice(rescreen), infant.Site.Protocol == Protocol.Oae ? Emissions(infant.Site) : "aabr", .12);
            else
                Contact(infant, "screening", infant.BornAt.AddDays(25), false, infant.BornAt.AddDays(90));
        }

        if (screen.Passed || !(straight || comesBack)) return;
        Diagnose(infant, !_dice.Chance(lostShare));
    }

    private void Diagnose(Infant infant, bool comes)
    {
        var clinic = Places.ClinicOf(infant.Site.County);
        Contact(infant, "diagnosis", infant.BornAt.AddDays(75), comes, infant.BornAt.AddDays(160));
        // Median age at diagnosis 68 days (nine states 2017, PMC8436596; F).
        var visit = AtOffice(infant.BornAt.AddDays(Math.Clamp(_dice.LogNormal(66, .5), 14, 400)));
        if (!comes || visit >= infant.GoneAt) return;
        if (_dice.Chance(.04))
        {
            Add(Places.Program, RowKind.Refusal, visit, infant, false, ("step", "diagnosis"), ("refused_on", Report.Day(DateOnly.FromDateTime(visit))), ("refused_by", "parent"));
            return;
        }

        if (_dice.Chance(.15))
        {
            Evaluate(infant, clinic, visit, "inconclusive", "inconclusive", "not_stated", provisional: true);
            visit = AtOffice(visit.AddDays(_dice.Between(20, 50)));
            if (_dice.Chance(.2) || visit >= infant.GoneAt) return;
        }

        if (!infant.PermanentLoss)
        {
            var conductive = _dice.Chance(.12);
            Evaluate(infant, clinic, visit, conductive ? "conductive" : "normal", conductive && _dice.Chance(.5) ? "conductive" : "normal", conductive ? "mild" : "not_stated", false);
            return;
        }

        var type = _dice.Chance(.1) ? "auditory_neuropathy" : _dice.Chance(.12) ? "mixed" : "sensorineural";
        var degree = _dice.Of<string>(["mild", "moderate", "moderate", "moderately_severe", "severe", "profound"]);
        Evaluate(infant, clinic, visit, infant.LossRight ? type : "normal", infant.LossLeft ? type : "normal", degree, false);
        Intervene(infant, visit);
    }

    private void Evaluate(Infant infant, Place clinic, DateTime at, string right, string left, string degree, bool provisional)
    {
        // Story 3: what this clinic saw in the last ten weeks was never sent.
        if (clinic.Code == Places.SilentClinic && DateOnly.FromDateTime(at) > anchor.AddDays(-70)) return;
        Add(clinic.Code, RowKind.Diagnosis, at, infant, false,
            ("evaluated_on", Report.Day(DateOnly.FromDateTime(at))), ("right_finding", right), ("left_finding", left),
            ("right_degree", Degree(right)), ("left_degree", Degree(left)), ("provisional", provisional ? "yes" : "no"));

        string Degree(string finding) => finding is "normal" or "inconclusive" ? "not_stated" : degree;
    }

    private void Intervene(Infant infant, DateTime identified)
    {
        var referred = identified.AddDays(_dice.Between(1, 12));
        Event("referred", referred);
        if (_dice.Chance(.08))
        {
            Add(Places.EarlyIntervention.Code, RowKind.Refusal, referred.AddDays(20), infant, false, ("step", "intervention"), ("refused_on", Report.Day(DateOnly.FromDateTime(referred.AddDays(20)))), ("refused_by", "parent"));
            return;
        }

        if (_dice.Chance(.7)) Event("amplification_fitted", identified.AddDays(_dice.Between(18, 60)));
        if (_dice.Chance(.28)) return; // enrolled about 60-70 % of permanent loss (CDC; F)
        Event("eligible", referred.AddDays(14));
        var enrolled = referred.AddDays(_dice.Between(16, 70));
        Event("enrolled", enrolled);
        Event("service_plan", enrolled.AddDays(_dice.Between(0, 20)));

        void Event(string kind, DateTime at)
        {
            if (at < infant.GoneAt)
                Add(Places.EarlyIntervention.Code, RowKind.Intervention, at, infant, false, ("event", kind), ("happened_on", Report.Day(DateOnly.FromDateTime(at))));
        }
    }

    /// <summary>The office's attempts to reach a family; in one county they mostly fail (story 7).</summary>
    private void Contact(Infant infant, string step, DateTime first, bool reached, DateTime last)
    {
        var unreachable = infant.Site.County == Places.UnreachableCounty;
        var attempts = _dice.Between(1, 3);
        for (var i = 0; i < attempts; i++)
        {
            var at = first.AddDays(18 * i);
            if (at > last || at >= infant.GoneAt) return;
            var outcome = reached && i == attempts - 1 ? "appointment_made"
                : reached ? "reached"
                : unreachable || _dice.Chance(.4) ? "unable_to_contact"
                : "no_response";
            Add(Places.Program, RowKind.Contact, at, infant, false, ("step", step), ("attempted_on", Report.Day(DateOnly.FromDateTime(at))), ("contact_outcome", outcome));
        }
    }

    private DateTime AtOffice(DateTime at) => at.Date.AddHours(9 + _dice.Between(0, 6)).AddMinutes(15 * _dice.Between(0, 3));
}
