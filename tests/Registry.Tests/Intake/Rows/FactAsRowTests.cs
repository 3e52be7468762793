using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Facts;

namespace Registry.Tests.Intake.Rows;

/// <summary>A form that corrects begins with what is recorded: stated as a row and read again it is the same fact, whatever its kind.
/// </summary>
public sealed class FactAsRowTests
{
    private static readonly Guid Hill = Guid.CreateVersion7();

    public static TheoryData<RowKind> Kinds => [.. FactKinds.All.Select(k => k.Kind)];

    [Theory]
    [MemberData(nameof(Kinds))]
    public void A_fact_stated_as_a_row_is_the_same_fact(RowKind kind)
    {
        var fact = FilledRows.Fact(kind, Hill);
        Assert.Equal(fact, Read(kind, FactAsRow.Of(fact, new Dictionary<Guid, string> { [Hill] = "hill" })));
    }

    [Fact]
    public void What_is_not_stated_stays_so_and_seconds_are_kept()
    {
        var test = new ReportedScreening(Ear.Left, ScreeningOutcome.Pass, new(2026, 9, 2, 9, 15, 7));
        var columns = FactAsRow.Of(test, new Dictionary<Guid, string>());
        Assert.Equal("2026-09-02T09:15:07", columns[Field.PerformedAt]);
        Assert.DoesNotContain(Field.Reason, columns.Keys);
        Assert.DoesNotContain(Field.Stage, columns.Keys);
        Assert.Equal(test, Read(RowKind.Screening, columns));
        var birth = new ReportedBirth(new(2026, 9, 1), Sex.Unknown) { Place = BirthPlace.Hospital };
        Assert.Equal(birth, Read(RowKind.Birth, FactAsRow.Of(birth, new Dictionary<Guid, string>())));
    }

    private static ReportedFact? Read(RowKind kind, IReadOnlyDictionary<Field, string> columns)
    {
        var batch = new RowBatch(1);
        batch.Add(1, 1);
        batch.Set(Field.Kind, Codes.Of(kind));
        batch.Set(Field.RecordNumber, "H-1");
        foreach (var (field, value) in columns) batch.Set(field, value);
        var row = new CheckRow(new(2026, 11, 25), new Dictionary<string, Guid> { ["hill"] = Hill })
            .Check(batch, 0, out _, out var problems);
        Assert.True(row is not null, string.Join("; ", problems.Select(p => $"{p.Field} {p.Reason}")));
        return row.Fact;
    }
}
