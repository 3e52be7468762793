using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

public sealed record ReportedTransfer(Guid ToSiteId, DateOnly TransferredOn) : ReportedFact<ReportedTransfer>
{
    public override DateOnly On => TransferredOn;

    protected override bool IsAboutTheSameAs(ReportedTransfer recorded) => TransferredOn == recorded.TransferredOn;

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedTransfer>(RowKind.Transfer, "transfers", day: "transferred_on");
        var transferred = table.Date("transferred_on", f => f.TransferredOn);
        var to = table.SiteThatSees("to_site_id", Opening.NoProgram, f => f.ToSiteId);
        table.ReadAs(r => new(to[r], transferred[r]));
        table.ForRules(r => new Transfer(transferred[r], to[r]), (f, all) => f with { Transfers = all });
        return table;
    }
}
