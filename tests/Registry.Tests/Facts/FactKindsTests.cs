using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Reporting.Export;
using Registry.Rules.Facts;

namespace Registry.Tests.Facts;

/// <summary>A kind of fact, or a column of one, is missing nowhere: the table of kinds beside the code and the rows.</summary>
public sealed class FactKindsTests
{
    private static readonly Guid Hill = Guid.CreateVersion7();

    public static TheoryData<RowKind> Kinds => [.. FactKinds.All.Select(k => k.Kind)];

    [Fact]
    public void Every_kind_of_row_is_a_kind_of_fact_except_the_one_that_states_none()
    {
        Assert.Equal(Enum.GetValues<RowKind>().Where(k => k != RowKind.Merge), FactKinds.All.Select(k => k.Kind).Order());
        Assert.Equal(RowKind.Birth, FactKinds.All[0].Kind);
        Assert.Equal(FactKinds.Tables.Count, FactKinds.Tables.Distinct().Count());
    }

    [Fact]
    public void Every_record_of_a_fact_has_its_table()
    {
        var records = typeof(ReportedFact).Assembly.GetTypes()
            .Where(t => !t.IsAbstract && t.IsSubclassOf(typeof(ReportedFact)) && t != typeof(ReportedMerge));
        Assert.Equal(records.OrderBy(t => t.Name), FactKinds.All.Select(k => k.Reported).OrderBy(t => t.Name));
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void A_row_can_state_everything_a_fact_holds(RowKind kind)
    {
        var fact = FilledRows.Fact(kind, Hill);
        Assert.IsType(FactKinds.All.Single(k => k.Kind == kind).Reported, fact);
        Assert.Empty(FilledRows.Blank(fact));
        if (fact is ReportedScreening { Detail: { } detail }) Assert.Empty(FilledRows.Blank(detail));
        if (fact is ReportedDiagnosis { Detail: { } evaluation }) Assert.Empty(FilledRows.Blank(evaluation));
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void The_day_of_a_fact_is_in_the_column_that_states_it(RowKind kind)
    {
        var fact = FilledRows.Fact(kind, Hill);
        var day = FieldOfDay.Of(fact);
        Assert.Contains(day, FilledRows.FieldsOf(kind));
        Assert.StartsWith(fact.On.ToString("yyyy-MM-dd", null), FilledRows.ValueOf(day, kind));
        var table = FactKinds.Of(fact);
        Assert.Contains(table.Columns, c => c.Name == table.Day);
    }

    [Fact]
    public void A_birth_restated_keeps_what_is_left_out_and_takes_what_is_stated()
    {
        var whole = (ReportedBirth)FilledRows.Fact(RowKind.Birth, Hill);
        var blank = new ReportedBirth(whole.BornOn, Sex.Unknown);
        Assert.Equal(whole, blank.RestatedBy(whole));
        Assert.Equal(whole, whole.RestatedBy(blank));
    }

    [Fact]
    public void Every_column_is_exported_but_names_numbers_and_ways_to_reach_a_person()
    {
        string[] leftOut =
        [
            "infant_given_name", "infant_family_name", "mother_given_name", "mother_family_name", "mother_born_on", "contact_email",
            "contact_phone", "email_consent", "post_discharge_provider", "screener", "screening_id", "evaluator", "evaluation_place",
            "diagnosis_id", "refused_by", "note", "appointment_place",
            // of the family, and of who cares for the child
            "person_name", "contact_phone", "other_phone", "contact_email", "street", "city", "postal_code", "preferred_hours",
            "primary_care", "primary_care_phone",
        ];
        var notExported = FactKinds.All.SelectMany(k => k.Columns.Select(c => c.Name).Except(ExportFacts.ColumnsOf(k)));
        Assert.Equal(leftOut.Order(), notExported.Order());
    }

    [Fact]
    public void The_rules_name_every_fact_they_are_given()
    {
        var named = new InfantFacts { Birth = default }.ByKind().ToList();
        Assert.Equal(typeof(InfantFacts).GetProperties().Length, named.Count);
        Assert.Equal(FactKinds.All.Count(k => k.IsForRules), named.Count);
        // No status depends on who is called.
        Assert.Equal([RowKind.FamilyContact, RowKind.Care], FactKinds.All.Where(k => !k.IsForRules).Select(k => k.Kind));
    }
}
