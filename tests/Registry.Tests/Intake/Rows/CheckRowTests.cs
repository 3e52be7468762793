using Registry.Intake.Rows;

namespace Registry.Tests.Intake.Rows;

/// <summary>One row, everything wrong with it. Received on 25 November 2026.</summary>
public sealed class CheckRowTests
{
    private const string Girl = "kind=birth record_number=1 birth_date=2026-11-01 sex=female";
    private const string Right = "kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-11-02T08:00";

    private static readonly CheckRow Check = new(new(2026, 11, 25), new Dictionary<string, Guid> { ["hill"] = Guid.CreateVersion7() });

    private static string Problems(string row) => Problems(row, Check);

    private static string Problems(string row, CheckRow check)
    {
        var batch = new RowBatch(1);
        batch.Add(1, 2);
        foreach (var pair in row.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            var (name, value) = (pair[..pair.IndexOf('=')], pair[(pair.IndexOf('=') + 1)..]);
            batch.Set(Registry.Rules.Facts.Codes.Parse<Field>(name), value.Replace('_', ' ').Replace("  ", "_"));
        }

        var result = check.Check(batch, 0, out _, out var problems);
        Assert.Equal(result is null, problems.Count > 0);
        return string.Join("; ", problems.Select(p => p.Field is null ? p.Reason : $"{p.Field} {p.Reason}"));
    }

    [Theory]
    [InlineData(Girl)]
    [InlineData(Girl + " birth_time=23:59:59 gestation_weeks=20 birth_weight_g=8000 plurality=2 birth_order=2 email_consent=YES "
        + "contact_email=a@b.example")]
    [InlineData("kind=BIRTH birth_date=2026-11-25 mother_family_name=Marlow sex=Male")]
    [InlineData(Right)]
    [InlineData("kind=screening card_id=7 ear=left outcome=no__valid__result reason=no__seal method=teoae "
        + "performed_at=2026-11-02_08:00:30")]
    [InlineData("kind=screening card_id=7 ear=left outcome=not__performed reason=declined performed_at=2026-11-02T08:00")]
    [InlineData("kind=diagnosis card_id=7 evaluated_on=2026-11-20 right_finding=sensorineural left_finding=normal "
        + "right_degree=moderately__severe permanent=1 provisional=0")]
    [InlineData("kind=intervention card_id=7 event=service__plan happened_on=2026-11-20")]
    [InlineData("kind=death card_id=7 died_on=2026-11-20")]
    [InlineData("kind=move card_id=7 move=out__of__region moved_on=2026-11-20")]
    [InlineData("kind=transfer card_id=7 to_site=HILL transferred_on=2026-11-20")]
    [InlineData("kind=refusal card_id=7 step=screening refused_on=2026-11-20 revoked_on=2026-11-21 refused_by=mother")]
    [InlineData("kind=risk card_id=7 indicator=congenital__cmv")]
    [InlineData("kind=contact card_id=7 step=diagnosis attempted_on=2026-11-20 contact_outcome=no__response")]
    public void Sound_rows_pass(string row)
    {
        // The sites of the region are looked up without regard to case, as codes are.
        if (row.Contains("HILL", StringComparison.Ordinal)) row = row.Replace("HILL", "hill", StringComparison.Ordinal);
        Assert.Equal("", Problems(row));
    }

    [Theory]
    // who
    [InlineData("kind=death died_on=2026-11-20",
        "says too little about who it is: state record_number or card_id, or birth_date, mother_family_name and sex")]
    [InlineData("record_number=1", "kind is required")]
    [InlineData("kind=born record_number=1",
        "kind unknown code; it is one of: birth, screening, diagnosis, intervention, death, move, transfer, refusal, risk, contact, "
        + "readmission, medical_delay, merge, appointment, family_contact, care")]
    [InlineData(Girl + " plurality=1 birth_order=2", "birth_order is greater than plurality")]
    [InlineData(Girl + " mother_birth_date=2026-11-02", "mother_birth_date is not before birth_date")]
    [InlineData(Girl + " ear=left", "ear does not belong to a birth row")]
    // impossible and future dates
    [InlineData("kind=birth record_number=1 birth_date=2026-02-29", "birth_date is not a day of the calendar")]
    [InlineData("kind=birth record_number=1 birth_date=11/01/2026", "birth_date is not a date (yyyy-MM-dd)")]
    [InlineData("kind=birth record_number=1 birth_date=2026-11-26", "birth_date is in the future")]
    [InlineData("kind=birth record_number=1 birth_date=1026-11-01", "birth_date is before 1900")]
    [InlineData("kind=birth record_number=1", "birth_date is required")]
    [InlineData(Girl + " birth_time=24:00", "birth_time is not a time (HH:mm or HH:mm:ss)")]
    [InlineData(Girl + " discharged_on=2026-10-31", "discharged_on is before birth_date")]
    [InlineData(Girl + " nicu_admitted_on=2026-11-03 nicu_discharged_on=2026-11-02", "nicu_discharged_on is before nicu_admitted_on")]
    [InlineData(Girl + " nicu_discharged_on=2026-11-02", "nicu_admitted_on is required with nicu_discharged_on")]
    [InlineData(Right + " birth_date=2026-11-03", "performed_at is before birth_date")]
    [InlineData("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-11-02",
        "performed_at is not a local date and time (yyyy-MM-ddTHH:mm, without offset)")]
    [InlineData("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-11-02T08:00Z",
        "performed_at is not a local date and time (yyyy-MM-ddTHH:mm, without offset)")]
    [InlineData("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-11-31T08:00",
        "performed_at is not a day of the calendar")]
    [InlineData("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-11-26T00:00",
        "performed_at is in the future")]
    [InlineData("kind=diagnosis record_number=1 birth_date=2026-11-03 evaluated_on=2026-11-02 right_finding=normal left_finding=normal",
        "evaluated_on is before birth_date")]
    [InlineData("kind=death record_number=1 birth_date=2026-11-03 died_on=2026-11-02", "died_on is before birth_date")]
    [InlineData("kind=refusal record_number=1 step=screening refused_on=2026-11-20 revoked_on=2026-11-19",
        "revoked_on is before refused_on")]
    // values
    [InlineData(Girl + " gestation_weeks=19", "gestation_weeks is not between 20 and 45")]
    [InlineData(Girl + " gestation_weeks=39.5", "gestation_weeks is not a whole number")]
    [InlineData(Girl + " birth_weight_g=8001", "birth_weight_g is not between 200 and 8000")]
    [InlineData(Girl + " email_consent=maybe", "email_consent is not true or false")]
    [InlineData(Girl + " contact_email=nobody", "contact_email is not an e-mail address")]
    [InlineData("kind=birth record_number=1 birth_date=2026-11-01 sex=f", "sex unknown code; it is one of: unknown, female, male")]
    // screening
    [InlineData(Right + " reason=noise", "reason does not belong to a pass or refer")]
    [InlineData("kind=screening record_number=1 ear=right outcome=no__valid__result method=oae performed_at=2026-11-02T08:00",
        "reason is required for no_valid_result")]
    [InlineData("kind=screening record_number=1 ear=right outcome=not__performed reason=noise performed_at=2026-11-02T08:00",
        "reason is not a reason for not_performed")]
    [InlineData("kind=screening record_number=1 ear=right outcome=no__valid__result reason=declined method=oae "
        + "performed_at=2026-11-02T08:00", "reason is not a reason for no_valid_result")]
    [InlineData("kind=screening record_number=1 outcome=pass performed_at=2026-11-02T08:00", "ear is required; method is required")]
    // others
    [InlineData("kind=diagnosis record_number=1 evaluated_on=2026-11-02 right_finding=normal left_finding=mixed right_degree=mild",
        "right_degree a degree belongs to a loss only")]
    [InlineData("kind=diagnosis record_number=1 evaluated_on=2026-11-02 right_finding=not__evaluated left_finding=not__evaluated",
        "right_finding neither ear was evaluated")]
    [InlineData("kind=transfer record_number=1 to_site=nowhere transferred_on=2026-11-20",
        "to_site is not the code of a site of this region")]
    public void Everything_wrong_is_named_with_its_field(string row, string problems) => Assert.Equal(problems, Problems(row));

    [Fact]
    public void Every_problem_of_a_row_is_told_at_once() => Assert.Equal(
        "birth_date is not a day of the calendar; sex unknown code; it is one of: unknown, female, male; gestation_weeks is not between "
            + "20 and 45",
        Problems("kind=birth record_number=1 birth_date=2026-13-01 sex=x gestation_weeks=50"));

    [Fact]
    public void A_value_is_never_repeated() =>
        Assert.DoesNotContain("Zaphod", Problems("kind=Zaphod sex=Zaphod birth_date=Zaphod birth_time=Zaphod"), StringComparison.Ordinal);

    /// <summary>United States 2026 (tz database): on 8 March 02:00 becomes 03:00, on 1 November 02:00 becomes 01:00.</summary>
    [Theory]
    [InlineData("birth_date=2026-03-08 birth_time=02:30", "birth_time does not exist: clocks went forward over this hour")]
    [InlineData("birth_date=2026-03-08 birth_time=01:59", "")]
    [InlineData("birth_date=2026-03-08 birth_time=03:00", "")]
    [InlineData("birth_date=2026-11-01 birth_time=01:30", "")]
    public void An_hour_the_clocks_skipped_is_refused(string born, string expected)
    {
        var there = new CheckRow(new(2026, 11, 25), new Dictionary<string, Guid>())
        {
            Zone = TimeZoneInfo.FindSystemTimeZoneById("America/New_York"),
        };
        Assert.Equal(expected, Problems($"kind=birth record_number=1 sex=female {born}", there));
        Assert.Equal("performed_at does not exist: clocks went forward over this hour",
            Problems("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-03-08T02:59", there));
        Assert.Equal("", Problems("kind=screening record_number=1 ear=right outcome=pass method=oae performed_at=2026-03-08T02:59"));
    }

    [Theory]
    [InlineData("2026-12-20", "")]
    [InlineData("2026-11-20", "next_evaluation_on is not after evaluated_on")]
    public void When_the_audiologist_wants_to_see_the_child_again(string next, string expected) =>
        Assert.Equal(expected, Problems(
            $"kind=diagnosis card_id=7 evaluated_on=2026-11-20 right_finding=normal left_finding=normal next_evaluation_on={next}"));
}
