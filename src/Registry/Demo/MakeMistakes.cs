using Registry.Records;

namespace Registry.Demo;

/// <summary>Mistakes of every day in the last months (story 6): work for the pages of held and rejected rows.</summary>
internal static class MakeMistakes
{
    public const int Days = 90;
    private const double ShareOfFiles = .35; // O

    /// <summary>The rows of one file, perhaps with one mistake more.</summary>
    /// <param name="dice">The file's own.</param>
    /// <param name="rows">What the place meant to send.</param>
    public static IReadOnlyList<Report> In(Dice dice, IReadOnlyList<Report> rows)
    {
        var tests = rows.Where(r => r.Kind == RowKind.Screening && r["outcome"] is "pass" or "refer" && r["record_number"] is not null)
            .ToList();
        if (!dice.Chance(ShareOfFiles) || tests.Count == 0) return rows;
        var test = dice.Of(tests);
        Report? mistake = dice.Between(0, 5) switch
        {
            0 => test,                                                                             // sent twice
            1 => test.With("outcome", "failed"),                                                   // an outcome that is no outcome
            2 => test.With("performed_at", Report.Moment(test.KnownAt.AddYears(-1))),              // tested before birth
            3 => test.With("outcome", test["outcome"] == "pass" ? "refer" : "pass"),               // the same test, another outcome
            4 => test.With("record_number", test["record_number"] + "X"),                          // a record number nobody has
            _ => test.With("performed_at", Report.Moment(test.KnownAt.AddDays(400))),              // in the future
        };
        return [.. rows, mistake];
    }
}
