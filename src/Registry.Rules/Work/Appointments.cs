using Registry.Rules.Facts;

namespace Registry.Rules.Work;

/// <summary>What an infant's appointments say on a day.</summary>
public static class Appointments
{
    /// <summary>Whether an appointment stands: made, and not moved, cancelled or missed since. One made anew on a later day stands
    /// again.</summary>
    public static bool Stands(Appointment made, IReadOnlyList<Appointment> all) =>
        made.Kind == AppointmentEvent.Made && !all.Any(e => IsOf(made, e)
            && (e.Kind is AppointmentEvent.Moved or AppointmentEvent.Cancelled or AppointmentEvent.NoShow)
            && e.HappenedOn >= made.HappenedOn);

    /// <summary>Whether the family came.</summary>
    public static bool IsKept(Appointment made, IReadOnlyList<Appointment> all) =>
        all.Any(e => IsOf(made, e) && e.Kind == AppointmentEvent.Kept && e.HappenedOn >= made.HappenedOn);

    private static bool IsOf(Appointment made, Appointment other) => other.Step == made.Step && other.On == made.On;
}
