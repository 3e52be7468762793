using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Milestones;

namespace Registry.HandOffs;

/// <summary>Where a referral is at an early-intervention program.</summary>
public enum ReferralStage { ToAcknowledge, ConsentAwaited, ToEnroll, PlanDue, InServices }

/// <summary>A referral as the program sees it.</summary>
/// <param name="PlanBy">The last day of the 45 for the service plan's meeting, counted from the receipt here; null before it.</param>
public sealed record Referral(
    Guid HandOff, InfantId Id, ReferralStage Stage, DateTimeOffset SentAt, DateOnly AcknowledgeBy, DateOnly? AcknowledgedOn,
    DateOnly? ConsentOn, DateOnly? PlanBy, string From, DateOnly BornOn, string Child, string Parent, string? Phone, string? Language,
    bool IsAccepted)
{
    /// <summary>Whether the record is shown: not before the family's consent.</summary>
    public bool IsShown => ConsentOn is not null;
}

/// <summary>
/// The referrals that stand to the viewer's site. Before the family's written consent to the exchange (34 CFR 303.401(a)) only that there
/// is one, and what it carries so that the family can be reached: the child's name and birth date and the parent's contact, the list of
/// 34 CFR 303.401(d)(1) (from memory; it is of another notice). What the law allows, local counsel decides.
/// </summary>
/// <remarks>Read as the program itself, since the infants are not shown to the viewer; so it asks for the site's own hand-offs, and reads
/// no column beside those.</remarks>
public sealed class ListReferrals(NpgsqlDataSource source)
{
    /// <summary>More than a program has at once.</summary>
    public const int Most = 500;

    private static readonly string Sql = EmbeddedSql.Of<ListReferrals>()
        .Replace("{family}", WhomToCall.Join("h.infant_id"), StringComparison.Ordinal);

    public async Task<IReadOnlyList<Referral>> OfAsync(Viewer viewer, CancellationToken ct)
    {
        if (viewer.SiteId is not { } site) return [];
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("site", site.Value);
        command.Parameters.AddWithValue("most", Most);
        var rows = new List<Referral>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) rows.Add(Read(r));
        return rows;
    }

    private static Referral Read(NpgsqlDataReader r)
    {
        var (state, received, consent) = (r.Code<HandOffState>(2), r.ValueOrNull<DateOnly>(5), r.ValueOrNull<DateOnly>(6));
        var call = WhomToCall.Of(r.TextOrNull(13), r.TextOrNull(14), r.TextOrNull(17));
        var stage = state == HandOffState.Sent ? ReferralStage.ToAcknowledge
            : consent is null ? ReferralStage.ConsentAwaited
            : !r.GetBoolean(15) ? ReferralStage.ToEnroll
            : !r.GetBoolean(16) ? ReferralStage.PlanDue : ReferralStage.InServices;
        return new(
            r.GetGuid(0), new(r.GetGuid(1)), stage, r.Moment(3), r.Date(4), received, consent, received?.AddDays(PartC.ServicePlanDays),
            r.GetString(7), r.Date(8), $"{r.TextOrNull(9)} {r.TextOrNull(10)}".Trim(), $"{r.TextOrNull(11)} {r.TextOrNull(12)}".Trim(),
            call.Phone, call.Language, state == HandOffState.Accepted);
    }
}
