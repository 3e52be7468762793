using Registry.Intake.Rows;
using Registry.Rules.Facts;
using Registry.Tests.Architecture;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>What messages say of a family. Places and codes: HL7 v2.6 chapters 3 and 6 and table 0063, as the npm package hl7-dictionary
/// has them; the patient of the second test is the one of the standard's own example of ADT^A01 (chapter 3).</summary>
public sealed class FamilyMessagesTests
{
    private const string Head = "MSH|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121080000||ADT^A01^ADT_A01|A-1|P|2.6";
    private const string Newborn = "PV1|1|I|NURSERY^1|N";

    [Fact]
    public async Task Everybody_of_the_family_is_a_row_and_the_mother_is_not_said_twice() => Assert.Equal(
    [
        "birth",
        "family_contact residence_state=LM language=da relation=mother other_phone=555 0124 other_phone_use=mobile street=2 Moor Rd Flat 3 "
            + "city=Harbour postal_code=0001 interpreter_needed=true preferred_channel=text_message preferred_hours=after 17:00",
        "family_contact contact_email=tom@example.test contact_phone=555 0200 relation=father person_name=Tom Marlow phone_use=work "
            + "may_be_told=false",
        "family_contact contact_phone=555 0300 relation=foster_parent person_name=Nora Berg phone_use=home holds_custody=true",
        "family_contact contact_phone=555 0400 relation=agency person_name=Lind child protection",
        "family_contact residence_state=LM contact_phone=555 0500 relation=self phone_use=home other_phone=555 0501 other_phone_use=work "
            + "street=1 Quay Rd city=Harbour postal_code=0002",
        "care insurance=medicaid primary_care=Ilse Quist primary_care_confirmed=true",
    ], (await RowsAsync(Messages.Lines(
        Head, "EVN|A01|20261121080000",
        "PID|1||4711^^^HARBOUR^MR||Marlow^Girl||20261120|F|||1 Quay Rd^^Harbour^LM^0002^^^^Lind||^PRN^PH^^^^^^^^^555 0500|555 0501|en",
        "PD1||||77^Quist^Ilse",
        Messages.Segment("NK1", (1, "1"), (2, "Marlow^Ada"), (3, "MTH^Mother^HL70063"), (4, "2 Moor Rd^Flat 3^Harbour^LM^0001"),
            (5, "555 0123^PRN^PH~555 0124^PRS^CP~^NET^Internet^ada@example.test"), (16, "19950203"), (20, "da")),
        Messages.Segment("NK1", (1, "2"), (2, "Marlow^Tom"), (3, "FTH^Father^HL70063"), (5, "^NET^Internet^tom@example.test"),
            (6, "555 0200")),
        Messages.Segment("NK1", (1, "3"), (2, "Berg^Nora"), (3, "PRNFOST^foster parent^RoleCode"), (5, "555 0300^PRN^PH")),
        Messages.Segment("NK1", (1, "4"), (5, "555 0400"), (7, "S^State Agency^HL70131"), (13, "Lind child protection")),
        "NK1|5|Somebody^Else|MTH",
        "NK1|6|Nobody^Known|XYZ",
        Newborn, Messages.Segment("IN1", (1, "1"), (4, "Lind Health"), (15, "medicaid")),
        Own(1, "interpreter_needed", "true", 1), Own(2, "preferred_channel", "text_message", 1),
        Own(3, "preferred_hours", "after 17:00", 1), Own(4, "may_be_told", "false", 2), Own(5, "holds_custody", "true", 3),
        Own(6, "primary_care_confirmed", "true", 0))))
        .Select(Short));

    /// <summary>Greensboro's address and both telephones of the standard's example; the patient is made a newborn.</summary>
    [Fact]
    public async Task The_standards_own_example_gives_its_address_and_telephones() => Assert.Equal(
        "family_contact residence_state=NC contact_phone=(555)555-2004 relation=self phone_use=work street=2222 HOME STREET city=GREENSBORO "
            + "postal_code=27401-1020",
        (await RowsAsync(Messages.Lines(
            Head, "EVN|A01|200708181123||",
            "PID|1||PATID1234^5^M11^ADT1^MR^GOOD HEALTH HOSPITAL~123456789^^^USSSA^SS||EVERYMAN^ADAM^A^III||20261119|M||C|2222 HOME "
                + "STREET^^GREENSBORO^NC^27401-1020|GL|(555) 555-2004|(555)555-2004||S||PATID12345001^2^M10^ADT1^AN^A|444333333|987654^NC|",
            "NK1|1|NUCLEAR^NELDA^W|SPO^SPOUSE||||NK^NEXT OF KIN",
            "PV1|1|I|2000^2012^01|N|||004777^ATTEND^AARON^A|||SUR||||ADM|A0|"))).Select(Short).Last());

    [Fact]
    public async Task Results_say_what_is_new_of_the_mother_too() => Assert.Equal(
        "family_contact contact_phone=555 0999 relation=mother person_name=Ada Marlow",
        (await RowsAsync(Messages.Results().Replace("NK1|1|Marlow^Ada|MTH^Mother^HL70063||", "NK1|1|Marlow^Ada|MTH^Mother^HL70063||555 0999",
            StringComparison.Ordinal))).Select(Short).Last());

    [Fact]
    public async Task A_message_that_says_nothing_of_a_family_makes_no_row_of_one()
    {
        Assert.DoesNotContain(await RowsAsync(Messages.Results()), r => r.Contains("family_contact", StringComparison.Ordinal));
        Assert.Equal(["birth"], (await RowsAsync(Messages.Admission())).Select(r => Short(r).Split(' ')[0]));
        // Somebody who was not born here, and a message that is no screening's.
        Assert.Empty(await RowsAsync(Messages.Admission(type: "R", address: "1 Quay Rd^^Harbour")));
    }

    /// <summary>A field with a million repetitions costs no more than one with twenty.</summary>
    [Fact]
    public async Task Many_repetitions_are_not_walked_again_and_again()
    {
        var rows = await RowsAsync(Messages.Lines(Head, "PID|1||4711^^^H^MR||Marlow^Girl||20261120|F|||||"
            + string.Concat(Enumerable.Repeat("~", 300_000)) + "555 0100", "NK1|1|Marlow^Tom|FTH||" + new string('~', 300_000), Newborn));
        Assert.Equal(["birth", "family_contact"], rows.Select(r => Short(r).Split(' ')[0]));
    }

    [Fact]
    public async Task Every_code_is_one_of_the_table()
    {
        var table = System.Text.Json.Nodes.JsonNode.Parse(string.Concat(await NodeTool.RunAsync(
            SourceTree.Root, "dictionary.js", ["NK1-3"], TestContext.Current.CancellationToken)))!["relationships"]!;
        Assert.DoesNotContain(FamilyCodes.OfTable0063, c => table[c] is null);
        foreach (var (code, name) in new[] { ("MTH", "Mother"), ("FTH", "Father"), ("PAR", "Parent"), ("GRD", "Guardian"),
            ("GRP", "Grandparent"), ("SEL", "Self") })
            Assert.Equal(name, table[code]!.ToString());
    }

    private static string Own(int n, string column, string value, int of) =>
        $"OBX|{n}|ST|{column}^^99REGISTRY|{(of == 0 ? "" : of)}|{value}||||||F";

    /// <summary>Without who it is about.</summary>
    private static string Short(string row)
    {
        if (row.StartsWith("kind=birth", StringComparison.Ordinal)) return "birth";
        Field[] who =
            [Field.RecordNumber, Field.BirthDate, Field.Sex, Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate];
        return System.Text.RegularExpressions.Regex.Replace(
            row, $" ({string.Join('|', who.Select(f => Codes.Of(f)))})=[^ ]*", "").Replace("kind=", "", StringComparison.Ordinal);
    }

    private static Task<List<string>> RowsAsync(string message) => ReadHl7V2RowsTests.RowsAsync(message);
}
