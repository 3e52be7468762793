using System.Globalization;
using Registry.Access;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>What a page says after a contact attempt was sent to it.</summary>
public static class ContactWords
{
    public static string OnRecord(ContactAnswer answer) => answer switch
    {
        ContactAnswer.Recorded => "The contact attempt is recorded. It can be taken back in the time line.",
        _ => Of(answer),
    };

    public static string OnFollowUp(ContactAnswer answer) => answer switch
    {
        ContactAnswer.Recorded => "The contact attempt is recorded. It can be taken back in the infant's record.",
        _ => Of(answer),
    };

    /// <summary>"Cora Ashgrove, program office": who called, and from which office.</summary>
    public static string By(string? name, Role? role, string? site) =>
        $"{name ?? "somebody"}, {(role is { } r && Permissions.SeesSeveralSites(r) ? "program office" : site)}";

    /// <summary>"3 Dec 2026, 10:30, Hill Audiology, room 4".</summary>
    public static string Of(AppointmentRecord at, IEnumerable<Site> sites) => string.Join(", ", new[]
    {
        Words.Date(at.AppointmentOn), at.AppointmentTime?.ToString("HH:mm", CultureInfo.InvariantCulture),
        sites.FirstOrDefault(s => s.Id == at.AppointmentSiteId)?.Name,
        FieldKeys.OfProcess.Decrypt(at.AppointmentPlace, "appointments.appointment_place"),
    }.Where(p => !string.IsNullOrEmpty(p)));

    public static string Of(AppointmentAnswer answer) => answer switch
    {
        AppointmentAnswer.Recorded => "What became of the appointment is recorded.",
        AppointmentAnswer.Already => "This is recorded already: the form came twice.",
        AppointmentAnswer.NotBooked => "There is no such appointment any more: somebody moved it or said what became of it.",
        AppointmentAnswer.NotYet => "The day of the appointment has not come. Nothing was recorded.",
        _ => "Choose what became of the appointment. Nothing was recorded.",
    };

    public static string Of(PutOffAnswer answer) => answer switch
    {
        PutOffAnswer.Recorded => "Put off. It comes back by itself on that day.",
        PutOffAnswer.Ended => "No longer put off.",
        PutOffAnswer.NotInTheFuture => $"Choose a day from tomorrow on, at most {PutOffInfant.MostDays} days ahead.",
        _ => "Choose a reason. Nothing was changed.",
    };

    private static string Of(ContactAnswer answer) => answer switch
    {
        ContactAnswer.TakenBack => "The contact attempt was taken back. It stays readable in the time line.",
        ContactAnswer.NotUnderstood => "The contact attempt was not understood. Nothing was recorded.",
        ContactAnswer.BirthUnknown => "The birth of this infant is not known yet, so nothing can be recorded.",
        ContactAnswer.Already => "This attempt is recorded already: the form came twice.",
        ContactAnswer.NoOutcome => "Choose what came of the attempt. Nothing was recorded.",
        ContactAnswer.CallAgainInvalid =>
            "The day to call again lies before the attempt, or more than two years ahead. Nothing was recorded.",
        ContactAnswer.TooLarge => "The note or the place is too long. Nothing was recorded.",
        ContactAnswer.AppointmentInvalid =>
            "The day of the appointment lies before the attempt, or more than two years ahead. Nothing was recorded.",
        ContactAnswer.AppointmentNotChosen =>
            "An appointment was filled in, and the outcome is another one. Choose \"Appointment made\", or empty its day.",
        ContactAnswer.NoSuchSite => "There is no such site, or it is closed. Nothing was recorded.",
        ContactAnswer.OpeningAndDay => "Choose an opening, or state a day: not both. Nothing was recorded.",
        ContactAnswer.OpeningOfOtherStep => "The opening is for another step than the call is about. Nothing was recorded.",
        ContactAnswer.OpeningTaken =>
            "That opening is no longer free: somebody took the last place, it has begun, or the clinic withdrew it. Nothing was changed.",
        ContactAnswer.BookedMeanwhile =>
            "Somebody booked, moved or ended an appointment since this form was opened. It is shown now; save again to move it.",
        ContactAnswer.InTheFuture => "The day of the attempt lies in the future. Nothing was recorded.",
        ContactAnswer.BeforeBirth => "The day of the attempt lies before the birth. Nothing was recorded.",
        ContactAnswer.UnknownCode => "The step or the outcome is not one we know. Nothing was recorded.",
        _ => "This contact attempt cannot be taken back here: it was reported in a submission or belongs to another site.",
    };
}
