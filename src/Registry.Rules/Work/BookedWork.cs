using Registry.Rules.Facts;

namespace Registry.Rules.Work;

/// <summary>What an infant's appointments say of the work: which one is waited for, which one's result, and who did not come.</summary>
internal static class BookedWork
{
    /// <summary>The soonest that is ahead, and the longest past whose result is not known.</summary>
    public static (DateOnly? Booked, DateOnly? Passed) Find(InfantFacts facts, InfantStatus status, ref Day day)
    {
        var (booked, passed) = ((DateOnly?)null, (DateOnly?)null);
        if (facts.Appointments.Length == 0) return (booked, passed);
        var asked = status.Dues.Select(d => WorkPlace.PathOf(d.Step)).ToHashSet();
        List<Appointment> known = [];
        foreach (var appointment in facts.Appointments)
            if (day.Reached(appointment.HappenedOn)) known.Add(appointment);
        foreach (var made in known)
        {
            if (!asked.Contains(made.Step) || !Appointments.Stands(made, known)) continue;
            var isOver = day.Past(made.On);
            if (isOver || Appointments.IsKept(made, known))
            {
                if (!IsAnswered(made, facts, ref day) && !(made.On <= passed)) passed = made.On;
            }
            else if (!(made.On >= booked)) booked = made.On;
        }

        return (booked, passed);
    }

    /// <summary>Whether a result of the step is known since the appointment.</summary>
    private static bool IsAnswered(Appointment made, InfantFacts facts, ref Day day)
    {
        IEnumerable<DateOnly> results = made.Step switch
        {
            PathStep.Screening => facts.Tests.Select(t => DateOnly.FromDateTime(t.PerformedAt)),
            PathStep.Diagnosis => facts.Evaluations.Select(e => e.EvaluatedOn),
            _ => facts.Interventions.Select(i => i.HappenedOn),
        };
        foreach (var on in results)
            if (on >= made.On && day.Reached(on)) return true;
        return false;
    }

    public static DateOnly? LastNoShow(InfantFacts facts, ref Day day)
    {
        DateOnly? last = null;
        foreach (var appointment in facts.Appointments)
            if (appointment.Kind == AppointmentEvent.NoShow && day.Reached(appointment.HappenedOn) && !(appointment.On <= last))
                last = appointment.On;
        return last;
    }
}
