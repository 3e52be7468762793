using System.Text;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;

namespace Registry.Tests.Intake.Formats.Workbooks;

/// <summary>Measures the memory of the whole process: no other test runs beside it.</summary>
[CollectionDefinition(nameof(WorkbookMemoryTests), DisableParallelization = true)]
public sealed class WorkbookMemoryCollection;

[Collection(nameof(WorkbookMemoryTests))]
public sealed class WorkbookMemoryTests
{
    [Fact]
    public void However_many_rows_a_sheet_has_the_memory_is_that_of_one()
    {
        var rows = new StringBuilder("""<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c><c r="B1" t="inlineStr"><is><t>birth_date</t></is></c></row>""");
        for (var i = 2; i <= 100_001; i++) rows.Append(System.Globalization.CultureInfo.InvariantCulture, $"""<row r="{i}"><c r="A{i}"><v>{i}</v></c><c r="B{i}" s="1"><v>46327</v></c></row>""");
        var book = TestWorkbook.Of(rows.ToString(), [], ["yyyy-mm-dd"]);
        rows.Clear();
        using var workbook = Workbook.Open(new MemoryStream(book), null, new IntakeOptions());
        var (read, least, grown) = (0, long.MaxValue, 0L);
        while (workbook.Next())
        {
            if (++read % 20_000 != 0) continue;
            var live = GC.GetTotalMemory(true);
            least = Math.Min(least, live); // what tests before this one left may still go
            grown = Math.Max(grown, live - least);
        }

        Assert.Equal((100_000, "100001|2026-11-01"), (read, string.Join('|', workbook.Cells)));
        Assert.InRange(grown, 0, 16 * 1024 * 1024);
    }
}
