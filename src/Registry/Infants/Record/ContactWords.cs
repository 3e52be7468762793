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

    private static string Of(ContactAnswer answer) => answer switch
    {
        ContactAnswer.TakenBack => "The contact attempt was taken back. It stays readable in the time line.",
        ContactAnswer.NotUnderstood => "The contact attempt was not understood. Nothing was recorded.",
        ContactAnswer.BirthUnknown => "The birth of this infant is not known yet, so nothing can be recorded.",
        ContactAnswer.InTheFuture => "The day of the attempt lies in the future. Nothing was recorded.",
        ContactAnswer.BeforeBirth => "The day of the attempt lies before the birth. Nothing was recorded.",
        ContactAnswer.UnknownCode => "The step or the outcome is not one we know. Nothing was recorded.",
        _ => "This contact attempt cannot be taken back here: it was reported in a submission or belongs to another site.",
    };
}
