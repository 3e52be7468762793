using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What an instrument measured, beside the outcome.</summary>
internal readonly ref partial struct ReadFields
{
    private static readonly Field[] DetailFields =
        [Field.Stimulus, Field.DurationSeconds, Field.ArtefactsRejected, Field.EarCanalVolumeMl, Field.AmbientNoiseDb, Field.Bands];

    /// <summary>The detail of a test; null when none is stated, which costs a row a look at each.</summary>
    private TestDetail? Detail(ScreeningOutcome? outcome)
    {
        if (!batch.StatesAny(row, DetailFields)) return null;
        var detail = new TestDetail
        {
            Stimulus = String(Field.Stimulus, 64),
            DurationSeconds = Decimal(Field.DurationSeconds, TestDetail.Limits.DurationSeconds),
            ArtefactsRejected = Int(Field.ArtefactsRejected, TestDetail.Limits.ArtefactsRejected.Least,
                TestDetail.Limits.ArtefactsRejected.Most),
            EarCanalVolumeMl = Decimal(Field.EarCanalVolumeMl, TestDetail.Limits.EarCanalVolumeMl),
            AmbientNoiseDb = Decimal(Field.AmbientNoiseDb, TestDetail.Limits.AmbientNoiseDb),
            Bands = Bands(),
        };
        if (outcome == ScreeningOutcome.NotPerformed)
        {
            foreach (var field in DetailFields)
                if (IsStated(field))
                    problems.Add(new(field, "does not belong to a test that was not performed"));
        }

        return detail.IsEmpty ? null : detail;
    }

    private decimal? Decimal(Field field, (decimal Least, decimal Most) limits)
    {
        var text = batch.Text(row, field);
        if (text.IsEmpty) return null;
        if (!TestDetail.TryDecimal(text, out var value))
            problems.Add(new(field, "is not a number with at most two decimals"));
        else if (value < limits.Least || value > limits.Most)
            problems.Add(new(field, FormattableString.Invariant($"is not between {limits.Least} and {limits.Most}")));
        else
            return value;
        return null;
    }

    private IReadOnlyList<TestBand> Bands()
    {
        var text = batch.Text(row, Field.Bands);
        if (text.IsEmpty) return [];
        var (bands, problem) = TestDetail.ReadBands(text);
        if (problem is not null) problems.Add(new(Field.Bands, problem));
        return bands;
    }
}
