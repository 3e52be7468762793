using Registry.Records;

namespace Registry.Demo;

/// <summary>What follows a diagnosis, or a pass with a risk indicator.</summary>
internal sealed partial class ImagineFamily
{
    /// <summary>Who passed with a risk indicator is asked to come again by nine months; most families do (O).</summary>
    private void Surveillance(Infant infant, double lostShare)
    {
        var visit = AtOffice(infant.BornAt.AddDays(dice.Between(190, 275)));
        if (!_atRisk || dice.Chance(lostShare + .1) || visit >= infant.GoneAt) return;
        _reports.Evaluation(infant, Places.ClinicOf(infant.Site.County), visit, "normal", "normal", "not_stated");
    }

    private void Intervene(Infant infant, DateTime identified)
    {
        var referred = identified.AddDays(dice.Between(1, 12));
        Event("referred", referred);
        if (dice.Chance(.08))
        {
            _reports.Add(Places.EarlyIntervention, RowKind.Refusal, referred.AddDays(20), infant, "refused_on", ("step", "intervention"),
                ("refused_by", "parent"));
            return;
        }

        if (dice.Chance(.7))
        {
            Event("amplification_elected", identified.AddDays(7));
            Event("amplification_fitted", identified.AddDays(dice.Between(18, 60)));
        }

        if (dice.Chance(.3)) return; // enrolled about 60 % of permanent loss (CDC survey; F)
        Event("referral_received", referred.AddDays(2));
        Event("eligible", referred.AddDays(14));
        var enrolled = referred.AddDays(dice.Between(16, 70));
        Event("enrolled", enrolled);
        Event("service_plan", enrolled.AddDays(dice.Between(0, 20)));

        void Event(string kind, DateTime at)
        {
            if (at < infant.GoneAt) _reports.Intervention(infant, at, kind);
        }
    }
}
