using Registry.Matching;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Tests.Intake;

namespace Registry.Tests.Matching;

public sealed class KnownInfantsTests(TestDatabase database)
{
    private static readonly DateOnly Born = new(2026, 11, 1);

    /// <summary>Every way two mothers can agree, differ or leave out: the query finds exactly those the rule would look at.</summary>
    [Fact]
    public async Task The_query_leaves_out_only_whom_the_rule_would_not_look_at()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        string?[] families = [null, "MARLOW", "QUIST"], givens = [null, "ADA", "BEA"];
        DateOnly?[] births = [null, new(1990, 1, 1), new(1991, 1, 1)];
        var identities = (from f in families from g in givens from b in births select new Identity(Born, f, g, b, Sex.Unknown, null, null))
            .ToList();
        var infants = new List<(Guid Id, Identity Identity)>();
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        foreach (var identity in identities)
        {
            var id = Guid.CreateVersion7();
            await using var insert = new Npgsql.NpgsqlCommand(
                """
                with infant as (insert into infants (id, created_at) values ($1, now()) returning id)
                insert into births (id, infant_id, site_id, recorded_at, born_on, place, sex, mother_family_key, mother_given_key, mother_born_on, email_consent)
                select gen_random_uuid(), $1, $2, now(), $3, 'hospital', 'unknown', $4, $5, $6, false from infant
                """, connection);
            insert.Parameters.AddWithValue(id);
            insert.Parameters.AddWithValue(bed.Harbour.Value);
            insert.Parameters.AddWithValue(Born);
            insert.Parameters.AddWithValue(NpgsqlTypes.NpgsqlDbType.Text, (object?)identity.MotherFamily ?? DBNull.Value);
            insert.Parameters.AddWithValue(NpgsqlTypes.NpgsqlDbType.Text, (object?)identity.MotherGiven ?? DBNull.Value);
            insert.Parameters.AddWithValue(NpgsqlTypes.NpgsqlDbType.Date, (object?)identity.MotherBornOn ?? DBNull.Value);
            await insert.ExecuteNonQueryAsync(IntakeBed.Ct);
            infants.Add((id, identity));
        }

        foreach (var row in identities.Where(i => i.MotherFamily is not null || i.MotherBornOn is not null))
        {
            var known = await KnownInfants.LoadAsync(connection, [new(bed.Harbour, null, null, row)], [], bed.App.Today, IntakeBed.Ct);
            var looksAt = infants.Where(
                i => DecideMatch.Decide(row, false, [], [new(i.Id, i.Identity)]).Reason != HoldReason.NoSuchInfant
                // The given name alone leads to nobody: there is no index for it, and no rule would match by it.
                && !OnlyGivenAgrees(row, i.Identity)).Select(i => i.Id).Order();
            Assert.Equal(looksAt, known.Stored.Order());
        }
    }

    private static bool OnlyGivenAgrees(Identity a, Identity b) =>
        !(a.MotherFamily is not null && a.MotherFamily == b.MotherFamily)
            && !(a.MotherBornOn is not null && a.MotherBornOn == b.MotherBornOn);
}
