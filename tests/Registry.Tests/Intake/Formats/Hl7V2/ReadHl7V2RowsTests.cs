using System.Text;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>What rows a message makes. Codes: LOINC 54109-4 / 54108-6 answer list with its SNOMED CT codes (National Library of Medicine,
/// Newborn Screening Coding and Terminology Guide, "Hear-L").</summary>
public sealed class ReadHl7V2RowsTests
{
    [Fact]
    public async Task An_admission_of_a_newborn_is_a_birth() => Assert.Equal(
        ["kind=birth record_number=4711 birth_date=2026-11-20 sex=female mother_given_name=Ada mother_family_name=Marlow "
            + "mother_birth_date=1995-02-03 "
            + "birth_time=04:41 plurality=1 infant_given_name=Girl infant_family_name=Marlow county=Lind language=en "
                + "contact_email=ada@example.test contact_phone=555 0123"],
        await RowsAsync(Messages.Admission()));

    [Theory]
    [InlineData("A01"), InlineData("A03"), InlineData("A04"), InlineData("A08"), InlineData("A31")]
    public async Task Each_event_states_the_birth_and_the_discharge(string trigger) =>
        Assert.Contains("discharged_on=2026-11-22",
            Assert.Single(await RowsAsync(Messages.Admission(trigger: trigger, discharged: "202611221000"))), StringComparison.Ordinal);

    [Fact]
    public async Task An_admission_of_somebody_else_records_nothing() => Assert.Empty(await RowsAsync(Messages.Admission(type: "R")));

    [Fact]
    public async Task A_death_is_a_row_of_its_own() =>
        Assert.Equal(["birth", "death died_on=2026-11-22"], (await RowsAsync(Messages.Admission(death: "20261122|Y")))
            .Select(r => Short(r)));

    [Fact]
    public async Task Results_of_both_ears_are_two_tests() => Assert.Equal(
    [
        "screening ear=right outcome=pass method=aabr performed_at=2026-11-21T09:15 instrument=UNIT-4 screener=S12",
        "screening ear=left outcome=refer method=aabr performed_at=2026-11-21T09:15 instrument=UNIT-4",
    ], (await RowsAsync(Messages.Results(left: Messages.Refer))).Select(Short));

    [Theory]
    [InlineData("LA10392-1^Pass^LN", "outcome=pass")]
    [InlineData("164059009^O/E - hearing normal^SCT", "outcome=pass")]
    [InlineData("P^Pass^L^LA10392-1^Pass^LN", "outcome=pass")]
    [InlineData("LA10393-9^Refer^LN^183924009^Referral needed^SCT", "outcome=refer")]
    [InlineData("LA12408-3^Attempted, but unsuccessful - technical fail^LN", "outcome=no_valid_result reason=other")]
    [InlineData("103709008^Failed attempted procedure^SCT", "outcome=no_valid_result reason=other")]
    [InlineData("LA6644-4^Parental refusal^LN", "outcome=not_performed reason=declined")]
    [InlineData("LA7304-4^Not performed^LN", "outcome=not_performed reason=other")]
    [InlineData("410534003^Not indicated^SCT", "outcome=not_performed reason=medical_exclusion")]
    [InlineData("LA99999-9^Pass^LN",
        "! outcome unknown code; OBX-5 is an answer of LOINC 54109-4 / 54108-6 (LN) or its SNOMED CT code (SCT)")]
    [InlineData("LA10392-1^Pass^L",
        "! outcome unknown code; OBX-5 is an answer of LOINC 54109-4 / 54108-6 (LN) or its SNOMED CT code (SCT)")]
    [InlineData("LA10392-1^Pass^LN^183924009^Referral needed^SCT", "! outcome the two codes of OBX-5 contradict each other")]
    public async Task A_result_is_its_code_and_system(string value, string expected) =>
        Assert.Contains(expected, (await RowsAsync(Messages.Results(right: value)))[0].Replace(
            " method=aabr", "", StringComparison.Ordinal), StringComparison.Ordinal);

    [Theory]
    [InlineData("89644007^Left ear structure^SCT", true), InlineData("25577004^Right ear structure^SCT", false),
        InlineData("R^Right^L", false), InlineData("", false)]
    public async Task The_ear_is_the_LOINC_codes_and_a_body_site_may_not_contradict_it(string site, bool contradicts)
    {
        var row = (await RowsAsync(Messages.Results(site: site)))[0];
        Assert.Contains("ear=right", row, StringComparison.Ordinal);
        Assert.Equal(contradicts, row.Contains("! ear contradicts the observation site", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("F", ""), InlineData("P", ""), InlineData("C", "action=correct"), InlineData("D", "action=retract"),
        InlineData("W", "action=retract")]
    [InlineData("X", "! action unknown code"), InlineData("", "! action is required")]
    public async Task The_result_status_says_what_the_row_does(string status, string expected) =>
        Assert.Contains(expected, (await RowsAsync(Messages.Results(status: status)))[0], StringComparison.Ordinal);

    [Fact]
    public async Task The_birth_admission_states_the_birth_with_its_observations()
    {
        var rows = await RowsAsync(Messages.Results(pv1: "PV1|1|I|NURSERY^1|N", extra: Messages.Lines(
            "OBX|1|ST|57723-9^Unique bar code number of Current sample^LN|1|BS-000271||||||F",
            "OBX|2|CWE|57722-1^Birth plurality of Pregnancy^LN|1|LA12412-5^Twins^LN||||||F",
            "OBX|3|NM|8339-4^Birth weight Measured^LN|1|3.24|kg|||||F",
            "OBX|4|NM|57714-8^Obstetric estimation of gestational age^LN|1|39|wk|||||F",
            "OBX|5|CWE|58232-0^Hearing loss risk indicators^LN|1|LA6172-6^Family history^LN~LA12670-8^Assisted "
                + "ventilation^LN~LA12667-4^^LN~LA12671-6^Ototoxic^LN~LA12674-0^In utero infection^LN^congenital_cmv^^L~sepsis^^L||||||F|||20261121",
            "OBX|6|TX|57700-7^Comment^LN|1|calm||||||F").TrimEnd('\r')));
        Assert.Equal("birth plurality=2 gestation_weeks=39 birth_weight_g=3240 infant_given_name=Girl infant_family_name=Marlow",
            Short(rows[0]));
        Assert.All(rows, r => Assert.Contains("card_id=BS-000271", r, StringComparison.Ordinal));
        Assert.Equal(
            [
                "risk indicator=family_history", "risk indicator=caregiver_concern noted_on=2026-11-21", "risk indicator=ototoxic_medication",
                "risk indicator=congenital_cmv", "risk indicator=sepsis noted_on=2026-11-21",
            ],
            rows.Where(r => r.StartsWith("kind=risk", StringComparison.Ordinal)).Select(Short));
        Assert.All(rows.Where(r => r.StartsWith("kind=screening", StringComparison.Ordinal)), r =>
            Assert.Contains("stage=birth_admission", r, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_reason_alone_is_a_test_not_performed()
    {
        var row = Assert.Single(await RowsAsync(Messages.Lines(
            "MSH|^~\\&|A|HARBOUR|C|D|20261121||ORU^R01^ORU_R01|1|P|2.6", "PID|1||4711", "OBR|1||1|73741-1^^LN|||202611210915",
            "OBX|1|CWE|73739-5^^LN|1|LA6644-4^Parental refusal^LN||||||F")));
        Assert.Equal("screening ear=left outcome=not_performed reason=declined performed_at=2026-11-21T09:15", Short(row));
    }

    [Theory]
    [InlineData("LA12408-3")]
    [InlineData("LA7304-4")]
    public void A_reason_that_is_none_of_the_known_codes_is_told(string result)
    {
        var map = new MapMessage(TimeZoneInfo.Utc);
        map.Read(Encoding.UTF8.GetBytes(Messages.Lines(
            "MSH|^~\\&|A|HARBOUR|C|D|20261121||ORU^R01^ORU_R01|1|P|2.6", "PID|1||4711", "OBR|1||1|73741-1^^LN|||202611210915",
            $"OBX|1|CWE|54108-6^^LN|1|{result}^^LN||||||F", "OBX|2|CWE|73739-5^^LN|1|X1^Ward closed^99WARD||||||F")));
        Assert.Contains(map.Rows.Remarks, r => r.ToString().Contains("none of the known codes", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Duration_and_method_belong_to_their_order_or_sub_id()
    {
        var rows = await RowsAsync(Messages.Lines(
            "MSH|^~\\&|A|HARBOUR|C|D|20261121||ORU^R01^ORU_R01|1|P|2.5.1", "PID|1||4711", "OBR|1||1|54111-0^^LN|||20261121",
            "OBX|1|CWE|54109-4^^LN|1|LA10392-1^^LN||||||F|||202611210915", "OBX|2|CWE|54106-0^^LN|1|LA10387-1^^LN||||||F",
            "OBX|3|NM|73743-7^^LN|1|2|min|||||F",
            "OBX|4|CWE|54108-6^^LN|2|LA10392-1^^LN||||||F|||20261121", "OBX|5|CWE|54106-0^^LN|2|LA10390-5^^LN||||||F",
            "OBX|6|CWE|54108-6^^LN|3|LA10392-1^^LN||||||F|||202611210930"));
        Assert.Equal("screening ear=right outcome=pass method=aabr performed_at=2026-11-21T09:15 duration_seconds=120", Short(rows[0]));
        Assert.Contains("! performed_at states no time of day", rows[1], StringComparison.Ordinal);
        Assert.Contains("! method two methods in one order", rows[2], StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ORU^R01|1|P|2.6\rOBR|1", "! kind PID is required")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ORU^R01|1|P|2.6\rPID|1||1\rOBX|1|CWE|54109-4^^LN", "! kind an OBX stands before the OBR")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ORU^R01|1|P|2.6\rPID|1||1\rOBR|1\rOBX|1|NM|2345-7^Glucose^LN",
        "! kind nothing here is about newborn hearing screening")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ADT^A40|1|P|2.6\rPID|1||1", "! kind MRG is required")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||SIU^S12|1|P|2.6", "! kind MSH-9 is neither")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ADT^A02|1|P|2.6", "! kind MSH-9 names an event")]
    [InlineData("MSH|^~\\&|A|B|C|D|20261121||ADT^A01||T|2.2",
        "! kind MSH-10 (message control id) is required ! kind MSH-11 is not P: a registry records what happened, not training or "
        + "debugging ! kind MSH-12")]
    public async Task What_is_wrong_with_a_whole_message_is_one_row(string text, string expected) =>
        Assert.StartsWith(expected, Assert.Single(await RowsAsync(text)), StringComparison.Ordinal);

    [Fact]
    public async Task An_explicit_null_states_nothing() =>
        Assert.DoesNotContain(
            "infant_given_name", Assert.Single(
            await RowsAsync(Messages.Admission()
            .Replace("Marlow^Girl", "Marlow^\"\"", StringComparison.Ordinal))), StringComparison.Ordinal);

    [Theory]
    [InlineData("FHS|^~\\&\rBHS|^~\\&\r{0}{0}BTS|2\rFTS|1\r", null)]
    [InlineData("\r\n{0}\n\n{0}", null)]
    [InlineData("BHS|^~\\&\r{0}BTS|2\r", "BTS-1 says 2 messages, the batch has 1")]
    [InlineData("BHS|^~\\&\r{0}", "the batch breaks off")]
    [InlineData("FHS|^~\\&\rBHS|^~\\&\r{0}BTS|1\r", "the file breaks off")]
    [InlineData("FHS|^~\\&\rBHS|^~\\&\r{0}BTS|1\rFTS|1\r{0}", "something follows the trailer")]
    [InlineData("{0}BTS|1\r", "that did not begin")]
    [InlineData("PID|1\r{0}", "it is not an HL7 v2 message")]
    [InlineData("", "there are no messages")]
    public void A_batch_must_be_whole(string form, string? problem)
    {
        var bytes = Encoding.UTF8.GetBytes(string.Format(System.Globalization.CultureInfo.InvariantCulture, form, Messages.Admission()));
        foreach (var step in new[] { 1, 7, 64, 100_000 })
        {
            var inspect = new InspectHl7V2();
            for (var at = 0; at < bytes.Length; at += step) inspect.Feed(bytes.AsSpan(at, Math.Min(step, bytes.Length - at)));
            inspect.End();
            if (problem is null) Assert.Equal((0, 2), (inspect.Problems.Count, inspect.RowCount));
            else Assert.Contains(problem, Assert.Single(inspect.Problems).Reason, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void A_message_without_end_is_refused_before_memory_is_full()
    {
        var inspect = new InspectHl7V2();
        inspect.Feed(Encoding.ASCII.GetBytes("MSH|^~\\&|"));
        var filler = new byte[100_000];
        Array.Fill(filler, (byte)'x');
        for (var i = 0; i < 12; i++) inspect.Feed(filler);
        Assert.Contains("longer than", Assert.Single(inspect.Problems).Reason, StringComparison.Ordinal);
    }

    /// <summary>One line a row: its fields, then its problems after <c>!</c>.</summary>
    internal static async Task<List<string>> RowsAsync(string text)
    {
        var found = new List<string>();
        var batch = new RowBatch(3);
        using var reader = new ReadHl7V2Rows(new MemoryStream(Encoding.UTF8.GetBytes(text)), TimeZoneInfo.Utc);
        while (await reader.FillAsync(batch, TestContext.Current.CancellationToken))
        {
            for (var row = 0; row < batch.Count; row++)
            {
                found.Add(string.Join(' ', Enum.GetValues<Field>().Where(f => batch.Text(row, f).Length > 0)
                    .Select(f => $"{Codes.Of(f)}={batch.Text(row, f)}")
                    .Concat(batch.Problems(row).Select(p => $"! {p.Field} {p.Reason}"))));
            }
        }

        return found;
    }

    /// <summary>Without who it is about.</summary>
    private static string Short(string row) =>
        string.Join(' ', row.Split(' ').Where(p => !p.StartsWith("record_number=", StringComparison.Ordinal)
        && !p.StartsWith("card_id=", StringComparison.Ordinal) && !p.StartsWith("birth_date=", StringComparison.Ordinal)
            && !p.StartsWith("sex=", StringComparison.Ordinal)
        && !p.StartsWith("birth_time=", StringComparison.Ordinal) && !p.StartsWith("mother_", StringComparison.Ordinal)
        && !(row.StartsWith("kind=birth", StringComparison.Ordinal) && row.Contains("contact", StringComparison.Ordinal)
            && !p.StartsWith("kind", StringComparison.Ordinal)))).Replace("kind=", "", StringComparison.Ordinal);
}
