using Registry.Facts;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What a row says of an appointment.</summary>
internal readonly ref partial struct ReadFields
{
    /// <summary>Nobody books a child further ahead: a day beyond is a slip of the keyboard.</summary>
    private const int MostDaysAhead = 731;

    public ReportedAppointment? Appointment(IReadOnlyDictionary<string, Guid> sites)
    {
        var stated = RetractedAppointment();
        var time = Time(Field.AppointmentTime);
        var place = String(Field.AppointmentPlace, 100);
        var site = String(Field.AppointmentSite, 100) is { } code ? SiteOf(code, sites) : null;
        return stated is null ? null : stated with { Time = time, AtSiteId = site, Place = place };
    }

    /// <summary>Which appointment, and what became of it when.</summary>
    public ReportedAppointment? RetractedAppointment()
    {
        var step = RequiredCode<PathStep>(Field.Step);
        var kind = RequiredCode<AppointmentEvent>(Field.Appointment);
        var happened = RequiredPast(Field.HappenedOn);
        var on = Required(Field.AppointmentOn) ? Date(Field.AppointmentOn) : null;
        if (kind == AppointmentEvent.Made && on < happened) problems.Add(new(Field.AppointmentOn, "is before happened_on"));
        if (kind is AppointmentEvent.Kept or AppointmentEvent.NoShow && on > happened)
            problems.Add(new(Field.AppointmentOn, "is after happened_on"));
        if (on > receivedOn.AddDays(MostDaysAhead)) problems.Add(new(Field.AppointmentOn, "is more than two years ahead"));
        return step is { } s && kind is { } k && happened is { } day && on is { } at ? new(s, at, k, day) : null;
    }

    private Guid? SiteOf(string code, IReadOnlyDictionary<string, Guid> sites)
    {
        if (sites.TryGetValue(code, out var site)) return site;
        problems.Add(new(Field.AppointmentSite, "is not the code of a site of this region"));
        return null;
    }
}

/// <summary>An appointment, the other way.</summary>
public static partial class FactAsRow
{
    internal static void Say(StatedColumns row, ReportedAppointment at, IReadOnlyDictionary<Guid, string> sites)
    {
        row.Code<PathStep>(Field.Step, at.Step);
        row.Code<AppointmentEvent>(Field.Appointment, at.Kind);
        row.Day(Field.HappenedOn, at.HappenedOn);
        row.Day(Field.AppointmentOn, at.AppointmentOn);
        row.Time(Field.AppointmentTime, at.Time);
        row.Text(Field.AppointmentSite, at.AtSiteId is { } site ? sites[site] : null);
        row.Text(Field.AppointmentPlace, at.Place);
    }
}
