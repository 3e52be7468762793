using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>What became of an appointment; one appointment is known by its step and day.</summary>
public sealed record ReportedAppointment(PathStep Step, DateOnly AppointmentOn, AppointmentEvent Kind, DateOnly HappenedOn)
    : ReportedFact<ReportedAppointment>
{
    public TimeOnly? Time { get; init; }

    /// <summary>The clinic or other site of the region, which sees the infant it expects.</summary>
    public Guid? AtSiteId { get; init; }
    public string? Place { get; init; }

    public override DateOnly On => HappenedOn;
    public override string? Code => Codes.Of(Kind);

    protected override FactVerdict ComparedWith(ReportedAppointment recorded, bool sameSite, out ReportedAppointment result)
    {
        result = this;
        return sameSite && this == recorded ? FactVerdict.Same : FactVerdict.New;
    }

    protected override bool IsAboutTheSameAs(ReportedAppointment recorded) =>
        Step == recorded.Step && AppointmentOn == recorded.AppointmentOn && Kind == recorded.Kind && HappenedOn == recorded.HappenedOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedAppointment>(RowKind.Appointment, "appointments", day: "happened_on");
        table.OpensByOwnWord();
        var step = table.Code("step", f => f.Step);
        var on = table.Date("appointment_on", f => f.AppointmentOn);
        var kind = table.Code("kind", f => f.Kind);
        var happened = table.Date("happened_on", f => f.HappenedOn);
        table.ForRules(r => new Appointment(step[r], on[r], kind[r], happened[r]), (f, all) => f with { Appointments = all });
        var time = table.Time("appointment_time", f => f.Time);
        var site = table.SiteThatSees("appointment_site_id", Opening.Expected, f => f.AtSiteId);
        table.FilledByPages("entered_by", "entered_as", "form_key");
        var place = table.Secret("appointment_place", f => f.Place);
        table.ReadAs(r => new(step[r], on[r], kind[r], happened[r]) { Time = time[r], AtSiteId = site[r], Place = place[r] });
        return table;
    }
}
