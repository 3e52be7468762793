using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>A clinic's home: today's appointments, infants handed to it, results to enter, and results it is asked for.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class ClinicModel(
    ListClinicWork list, AnswerHandOff answers, AskForAnswer asking, AuditReads audit, Viewer viewer, AsOf asOf)
    : HomeModel<ClinicRow>(answers, audit, viewer, asOf)
{
    /// <summary>The code of the site that handed them on; null: any.</summary>
    [FromQuery(Name = "site")] public string? Sender { get; set; }

    public ClinicWork? Shown => Codes.TryParse<ClinicWork>(Show, out var kind) ? kind : null;
    public IReadOnlyList<(string? Code, string? Name)> Senders =>
        [.. All.Where(r => r.FromCode is not null).Select(r => (r.FromCode, r.From)).Distinct()
            .OrderBy(s => s.From, StringComparer.Ordinal)];

    protected override string Home => "/clinic";
    protected override string CsvName => "clinic";
    protected override string[] Columns { get; } =
        ["what", "on", "time", "mother", "child", "record_number", "born_on", "step", "from", "phone", "language", "for_whom"];

    /// <summary>A result that is asked for and that the clinic does not have.</summary>
    public async Task<IActionResult> OnPostNothingAsync([FromForm] Guid request, CancellationToken ct)
    {
        if (!await asking.HasNothingAsync(request, ct)) return NotFound();
        TempData["Done"] = ClinicWords.SaidNothing;
        return LocalRedirect(Home);
    }

    protected override Task<IReadOnlyList<ClinicRow>> ListAsync(Viewer of, CancellationToken ct) => list.OfAsync(of, ct);

    protected override bool IsShown(ClinicRow row) =>
        (Shown is null || row.Kind == Shown) && (string.IsNullOrEmpty(Sender) || row.FromCode == Sender);

    protected override InfantId InfantOf(ClinicRow row) => row.Id;

    protected override object?[] Cells(ClinicRow r) =>
        [r.Kind, r.On, r.Time, r.Mother, r.Child, r.RecordNumber, r.BornOn, r.Step, r.From, r.Phone, r.Language, r.ForWhom];
}
