namespace Registry.Rules.Facts;

/// <summary>
/// The birth admission, from birth to the discharge home, as far as it is known. A transfer continues it at the receiving hospital: a
/// discharge stated for the day of the transfer is the sender's, and not the one home. Ends once reported hold whatever day is asked.
/// </summary>
/// <param name="HomeOn">The discharge home.</param>
/// <param name="EndedOn">The last day of the stay: the discharge home or, that missing, the one from the NICU.</param>
/// <param name="BelievedUntil">With no end known: how long a stay in the NICU, or at a receiving hospital, is believed.</param>
/// <param name="LastOn">The last day of the stay: known, believed or, with neither, by age; null for a birth at home.</param>
public readonly record struct BirthStay(DateOnly? HomeOn, DateOnly? EndedOn, DateOnly? BelievedUntil, DateOnly? LastOn)
{
    public static BirthStay Of(InfantFacts facts, Policy policy)
    {
        var birth = facts.Birth;
        var home = birth.DischargedOn;
        var sentOn = facts.Transfers.Length == 0 ? null : SentOn(facts, policy);
        if (sentOn is not null && home == sentOn) home = null;
        var ended = home ?? (birth.NicuDischargedOn <= sentOn ? null : birth.NicuDischargedOn);
        var believed = ended is null ? (birth.NicuAdmittedOn ?? sentOn)?.AddDays(policy.InpatientDays) : null;
        var byAge = birth.Place == BirthPlace.Home ? (DateOnly?)null : birth.Date.AddDays(policy.BirthAdmissionHours / 24);
        return new(home, ended, believed, ended ?? believed ?? byAge);
    }

    /// <summary>The last day on which the NICU had the infant, by what was stated: a stay without its end ends with the discharge
    /// home.</summary>
    public DateOnly? NicuEndedOn(in Birth birth) => birth.NicuDischargedOn ?? (HomeOn >= birth.NicuAdmittedOn ? HomeOn : null);

    /// <summary>Whether a test belongs to the birth admission. With no end known an infant in the NICU, or at a receiving hospital, is
    /// still in it, a home birth has none, and any other goes by age.</summary>
    public bool Holds(DateTime at, in Birth birth, Policy policy)
    {
        if ((EndedOn ?? BelievedUntil) is { } last) return DateOnly.FromDateTime(at) <= last;
        if (birth.Place == BirthPlace.Home) return false;
        return Age.Hours(birth, at, policy.Zone) is { } hours
            ? hours <= policy.BirthAdmissionHours
            : Age.Days(birth.Date, DateOnly.FromDateTime(at)) * 24 <= policy.BirthAdmissionHours;
    }

    /// <summary>The last transfer that left the infant in hospital: by the stated discharge or, that missing, by age or in the
    /// NICU.</summary>
    private static DateOnly? SentOn(InfantFacts facts, Policy policy)
    {
        var birth = facts.Birth;
        DateOnly? last = null;
        foreach (ref readonly var transfer in facts.Transfers.AsSpan())
        {
            var on = transfer.TransferredOn;
            var inHospital = on >= birth.Date && (birth.DischargedOn is { } discharged ? on <= discharged
                : birth.NicuAdmittedOn <= on && !(birth.NicuDischargedOn < on)
                    || birth.Place != BirthPlace.Home && Age.Days(birth.Date, on) * 24 <= policy.BirthAdmissionHours);
            if (inHospital && !(last >= on)) last = on;
        }

        return last;
    }
}
