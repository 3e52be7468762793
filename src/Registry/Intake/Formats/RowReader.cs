using Registry.Intake.Rows;

namespace Registry.Intake.Formats;

/// <summary>Reads the rows of one submission into batches.</summary>
public abstract class RowReader : IDisposable
{
    /// <summary>Fills the emptied batch; false when there was no further row.</summary>
    public abstract ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct);
    public abstract void Dispose();

    /// <summary>All rows are applied, or none.</summary>
    public virtual bool AllOrNothing => false;
}
