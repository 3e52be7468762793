using Registry.Intake.Rows;

namespace Registry.Tests.Intake.Rows;

/// <summary>A reason names columns and codes as a file does; a page says them as it calls them.</summary>
public sealed class ReasonWordsTests
{
    [Theory]
    [InlineData("discharged_on", "is before birth_date", "Discharge: is before “Birth date”")]
    [InlineData(null, "says too little about who it is: state record_number or card_id, or birth_date, mother_family_name and sex",
        "says too little about who it is: state “Record number” or “Blood-spot card”, or “Birth date”, “Mother's family name” and sex")]
    [InlineData("performed_at", "is not a local date and time (yyyy-MM-ddTHH:mm, without offset)",
        "Performed at: is not a local date and time (such as 2026-11-21T09:15)")]
    [InlineData("reason", "is required for no_valid_result", "Reason: is required for no valid result")]
    [InlineData("sex", "unknown code; it is one of: female, male, unknown", "Sex: is none of these: Female, Male, Unknown")]
    [InlineData("ear", "does not belong to a medical_delay row", "Ear: does not belong to a medical delay row")]
    [InlineData(null, "no such thing as a_word_nobody_has", "no such thing as a_word_nobody_has")]
    public void A_page_says_a_reason_in_words(string? column, string reason, string said) =>
        Assert.Equal(said, ReasonWords.Whole(new(column, reason)));

    [Fact]
    public void Every_code_of_every_column_has_words()
    {
        foreach (var field in Enum.GetValues<Field>())
            foreach (var code in FieldValues.CodesOf(field))
                Assert.DoesNotContain('_', ValueWords.Of(field, code));
        Assert.Equal("some_text", ValueWords.Of(Field.Instrument, "some_text"));
        Assert.Equal("Spanish", ValueWords.Of(Field.Language, "spa"));
    }
}
