using Microsoft.AspNetCore.Authorization;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>An early-intervention program's home: referrals to acknowledge, families whose consent is awaited, who is to be enrolled, and
/// whose plan is to be recorded.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class EarlyInterventionModel(
    ListReferrals list, AnswerHandOff answers, IOptions<ProgramOptions> program, AuditReads audit, Viewer viewer, AsOf asOf)
    : HomeModel<Referral>(answers, audit, viewer, asOf)
{
    public ReferralStage? Shown => Codes.TryParse<ReferralStage>(Show, out var stage) ? stage : null;
    public string Phone => program.Value.Phone;

    protected override string Home => "/early-intervention";
    protected override string CsvName => "referrals";
    protected override string[] Columns { get; } =
    [
        "stage", "parent", "child", "born_on", "from", "referred_on", "acknowledge_by", "acknowledged_on", "consent_on", "plan_by", "phone",
        "language",
    ];

    protected override Task<IReadOnlyList<Referral>> ListAsync(Viewer of, CancellationToken ct) => list.OfAsync(of, ct);

    /// <summary>Those in services only when they are asked for.</summary>
    protected override bool IsShown(Referral row) => Shown is null ? row.Stage != ReferralStage.InServices : row.Stage == Shown;

    protected override InfantId InfantOf(Referral row) => row.Id;

    protected override object?[] Cells(Referral r) =>
    [
        r.Stage, r.Parent, r.Child, r.BornOn, r.From, r.SentAt, r.AcknowledgeBy, r.AcknowledgedOn, r.ConsentOn, r.PlanBy, r.Phone,
        r.Language,
    ];
}
