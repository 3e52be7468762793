using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// The birth admission. Source: a state's published rule, "the facility that discharges home is responsible for the screen": so a transfer
/// does not end the admission, the discharge home does. Read of the facts as a whole: an end once reported holds for every day.
/// </summary>
/// <param name="Home">The discharge home.</param>
/// <param name="Ended">Discharge home, else from the last NICU.</param>
/// <param name="OpenSince">No end is known: in a NICU, or with the receiving hospital, since that day.</param>
internal sealed record SlowStay(DateOnly? Home, DateOnly? Ended, DateOnly? OpenSince)
{
    public static SlowStay Of(InfantFacts all, Policy policy)
    {
        var birth = all.Birth;
        bool StillIn(DateOnly on)
        {
            if (on < birth.Date) return false;
            if (birth.DischargedOn is { } left) return on <= left;
            var inNicu = birth.NicuAdmittedOn is { } into && into <= on && (birth.NicuDischargedOn is not { } outOf || on <= outOf);
            return inNicu || birth.Place != BirthPlace.Home && (on.DayNumber - birth.Date.DayNumber) * 24 <= policy.BirthAdmissionHours;
        }

        var passedOn = all.Transfers.Select(t => t.TransferredOn).Where(StillIn).Select(d => (DateOnly?)d).Max();
        // Discharged on the very day of the transfer: to the other hospital, not home.
        var home = birth.DischargedOn == passedOn ? null : birth.DischargedOn;
        var fromNicu = birth.NicuDischargedOn is { } nicu && !(nicu <= passedOn) ? birth.NicuDischargedOn : null;
        var ended = home ?? fromNicu;
        return new(home, ended, ended is null ? birth.NicuAdmittedOn ?? passedOn : null);
    }
}
