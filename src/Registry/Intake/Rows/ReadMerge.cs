using Registry.Facts;

namespace Registry.Intake.Rows;

/// <summary>A row that puts two record numbers of one infant together: no fact about the infant, and not taken back by a row.</summary>
internal readonly ref partial struct ReadFields
{
    public ReportedMerge? Merge()
    {
        var stays = Required(Field.RecordNumber);
        if (!Required(Field.PriorRecordNumber) || !stays || String(Field.PriorRecordNumber, 64) is not { } prior) return null;
        if (!batch.Text(row, Field.RecordNumber).SequenceEqual(prior)) return new ReportedMerge(prior);
        problems.Add(new(Field.PriorRecordNumber, "is the same as record_number"));
        return null;
    }

    public ReportedMerge? RetractedMerge()
    {
        problems.Add(new(Field.Action, "record numbers put together are not taken apart by a row: ask the coordinator"));
        return null;
    }
}
