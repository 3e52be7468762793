using System.Security.Cryptography;
using Registry.Demo;

namespace Registry.Tests.Demo;

public sealed class DemoRegionTests
{
    private static readonly DateOnly Anchor = new(2026, 11, 25);

    [Fact]
    public void The_same_anchor_births_and_seed_give_the_same_bytes()
    {
        var region = new DemoRegion(Anchor, 1_000);
        Assert.Equal(Hash(region), Hash(region with { }));
        Assert.NotEqual(Hash(region), Hash(region with { Seed = 1 }));
        Assert.NotEqual(Hash(region), Hash(region with { Anchor = Anchor.AddDays(1) }));

        static string Hash(DemoRegion region)
        {
            using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
            foreach (var file in region.Submissions())
            {
                hash.AppendData(System.Text.Encoding.UTF8.GetBytes($"{file.SiteCode}|{file.ReceivedAt:O}|{file.FileName}|{file.Format}|"));
                hash.AppendData(file.Content);
            }

            return Convert.ToHexString(hash.GetHashAndReset());
        }
    }

    [Fact]
    public void Files_come_in_order_of_receipt_and_each_has_its_own_name()
    {
        var files = new DemoRegion(Anchor, 1_000).Submissions().ToList();
        Assert.Equal(files.OrderBy(f => f.ReceivedAt), files);
        Assert.Equal(files.Count, files.Select(f => (f.SiteCode, f.FileName)).Distinct().Count());
        Assert.All(files, f => Assert.True(f.ReceivedAt.UtcDateTime < Anchor.AddDays(1).ToDateTime(TimeOnly.MinValue)));
        Assert.All(files, f => Assert.Equal(f.Rows, RegionFiles.Read(f).Count()));
    }

    [Fact]
    public void The_default_region_has_the_sites_births_and_number_of_files_it_promises()
    {
        var rows = RegionFiles.Read(new DemoRegion(Anchor));
        Assert.InRange(rows.Select(r => r.File.FileName).Distinct().Count(), 500, 1_700);
        var infants = RegionFiles.Infants(rows);
        Assert.InRange(infants.Count, 19_700, 20_000); // births of the last days are not all sent yet
        Assert.Equal(24, infants.Select(i => i.Site).Distinct().Count());
        Assert.Equal(6, infants.Select(i => i.County).Distinct().Count());
    }

    [Fact]
    public void Only_what_had_happened_is_in_a_file_apart_from_mistakes()
    {
        string[] dates = ["birth_date", "performed_at", "evaluated_on", "happened_on", "attempted_on", "moved_on", "died_on", "refused_on", "discharged_on", "transferred_on"];
        var rows = RegionFiles.Read(new DemoRegion(Anchor, 3_000));
        var future = rows.Count(r => dates.Any(d => r[d] is not null && r.Day(d) > DateOnly.FromDateTime(r.File.ReceivedAt.UtcDateTime)));
        Assert.InRange(future, 0, rows.Count / 500);
    }

    [Fact]
    public void No_file_speaks_of_anyone_who_can_be_reached()
    {
        foreach (var row in RegionFiles.Read(new DemoRegion(Anchor, 1_000)))
        {
            if (row["contact_email"] is { } email) Assert.EndsWith(".example", email, StringComparison.Ordinal);
            if (row["contact_phone"] is { } phone) Assert.Matches("^555-01[0-9]{2}$", phone);
        }
    }
}
