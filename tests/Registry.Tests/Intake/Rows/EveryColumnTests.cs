using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Tests.Intake.Rows;

/// <summary>Columns may be as many as they are: each is told from every other, the first and the last, in a row and in JSON.</summary>
public sealed class EveryColumnTests(TestDatabase database)
{
    private static readonly Field[] All = Enum.GetValues<Field>();

    [Fact]
    public void A_row_states_what_it_states_and_no_other_column()
    {
        var batch = new RowBatch(All.Length + 1);
        foreach (var field in All)
        {
            batch.Add((int)field + 1, 1);
            batch.Set(field, $"value of {field}");
        }

        batch.Add(All.Length + 1, 1);
        Assert.True(batch.IsEmpty(All.Length));
        for (var row = 0; row < All.Length; row++)
        {
            // What was said about a row that comes back is no column of it.
            Field[] stated = All[row] == Field.Problems ? [] : [All[row]];
            Assert.Equal(stated, All.Where(f => batch.IsStated(row, f)));
            Assert.Equal(stated.Length == 0, batch.IsEmpty(row));
            Assert.Equal(stated.Length > 0, batch.StatesAny(row, All));
            Assert.False(batch.StatesAny(row, [.. All.Except(stated)]));
        }

        batch.Clear();
        batch.Add(1, 1);
        Assert.True(batch.IsEmpty(0));
    }

    [Fact]
    public void A_column_of_another_kind_is_refused_by_its_name_whichever_it_is()
    {
        var check = new CheckRow(new(2026, 11, 25), new Dictionary<string, Guid>());
        foreach (var kind in Enum.GetValues<RowKind>())
        {
            var foreign = new List<Field>();
            foreach (var field in All.Where(f => f != Field.Kind))
            {
                var batch = new RowBatch(1);
                batch.Add(1, 1);
                batch.Set(Field.Kind, Codes.Of(kind));
                batch.Set(field, "1");
                check.Check(batch, 0, out _, out var problems);
                var refused = problems.Where(p => p.Reason == $"does not belong to a {Codes.Of(kind)} row").Select(p => p.Field).ToList();
                Assert.All(refused, f => Assert.Equal(Codes.Of(field), f));
                if (refused.Count > 0) foreign.Add(field);
            }

            Assert.Empty(foreign.Intersect(CheckRow.FieldsOf(kind)));
            // Who it is about may be stated in a row of any kind.
            var stated = All.Except(foreign).Except(CheckRow.FieldsOf(kind)).ToHashSet();
            stated.RemoveWhere(f => f is <= Field.MotherBirthDate or Field.Problems);
            Assert.Empty(stated);
        }
    }

    [Fact]
    public async Task In_JSON_a_column_that_is_stated_twice_is_told_from_two_columns()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var columns = All.Except([Field.Kind, Field.Problems]).Select(f => Codes.Of(f)).ToList();
        var rows = Enumerable.Range(0, columns.Count).Select(i =>
            $$"""{"kind":"birth","{{columns[i]}}":"1","{{columns[(i + 1) % columns.Count]}}":"2","{{columns[i]}}":"3"}""");
        var id = await bed.SendAsync($$"""{"rows":[{{string.Join(',', rows)}}]}""", format: SubmissionFormat.Json);
        var twice = await bed.ListAsync(
            "select p ->> 'field' from submission_rows r cross join jsonb_array_elements(r.problems) p "
                + "where r.submission_id = $1 and p ->> 'reason' = 'is stated twice' order by r.row_number", id.Value);
        Assert.Equal(columns, twice);
    }
}
