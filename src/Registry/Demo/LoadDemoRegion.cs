using System.Diagnostics;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Infants;
using Registry.Intake;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Demo;

/// <summary>
/// Loads the invented region the way real places would: every file goes through the intake with the moment it was received.
/// Killed half-way, the next run goes on where it stopped (each file's name is its idempotency key).
/// </summary>
public static class LoadDemoRegion
{
    /// <summary>True once the people exist, which is the last thing done.</summary>
    public static async Task<bool> IsLoadedAsync(IServiceProvider services, CancellationToken cancel)
    {
        await using var scope = services.CreateAsyncScope();
        return await scope.ServiceProvider.GetRequiredService<RegistryDb>().Users.AnyAsync(cancel);
    }

    /// <param name="services">The program's own.</param>
    /// <param name="region">What to load.</param>
    /// <param name="say">Takes a line of progress every few seconds.</param>
    /// <param name="cancel">Stops between files.</param>
    public static async Task RunAsync(IServiceProvider services, DemoRegion region, Action<string> say, CancellationToken cancel)
    {
        var clock = Stopwatch.StartNew();
        var sites = await EnsureSitesAsync(services, cancel);
        say($"Demo region: imagining {region.Births:#,0} births up to {region.Anchor:yyyy-MM-dd} …");
        var submissions = region.Submissions().ToList();
        var receive = services.GetRequiredService<ReceiveSubmission>();
        var process = services.GetRequiredService<ProcessSubmission>();
        var (rows, said) = (0, TimeSpan.Zero);
        foreach (var (number, submission) in submissions.Index())
        {
            using var body = new MemoryStream(submission.Content);
            var receipt = await receive.ReceiveAsync(
                sites[submission.SiteCode], submission.Format, null, body, default, submission.ReceivedAt, submission.FileName, submission.FileName, cancel);
            if (receipt.Kind is not (ReceiptKind.Received or ReceiptKind.Repeated))
                throw new InvalidOperationException($"{submission.FileName} was not taken: {receipt.Kind} {string.Join("; ", receipt.Problems)}");
            await process.RunAsync(receipt.Id.Value, cancel);
            rows += submission.Rows;
            if (clock.Elapsed - said < TimeSpan.FromSeconds(3)) continue;
            said = clock.Elapsed;
            say($"Demo region: {100 * (number + 1) / submissions.Count} % ({number + 1:#,0} of {submissions.Count:#,0} files, {rows:#,0} rows)");
        }

        var policy = await services.GetRequiredService<PolicyStore>().InForceAsync(region.Anchor, cancel);
        await RecomputeStatuses.ForAllAsync(services.GetRequiredService<NpgsqlDataSource>(), region.Anchor, policy, cancel);
        await EnsurePeopleAsync(services, sites);
        say($"Demo region: loaded {rows:#,0} rows of {submissions.Count:#,0} files in {clock.Elapsed.TotalSeconds:0} s.");
    }

    private static async Task<Dictionary<string, SiteId>> EnsureSitesAsync(IServiceProvider services, CancellationToken cancel)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var known = await db.Sites.ToDictionaryAsync(s => s.Code, s => s.Id, cancel);
        foreach (var place in Places.All.Where(p => !known.ContainsKey(p.Code)))
        {
            var site = new Site { Id = SiteId.New(), Code = place.Code, Name = place.Name, County = place.County, Kind = place.Kind, HasNicu = place.HasNicu };
            db.Sites.Add(site);
            known[place.Code] = site.Id;
        }

        await db.SaveChangesAsync(cancel);
        return known;
    }

    private static async Task EnsurePeopleAsync(IServiceProvider services, Dictionary<string, SiteId> sites)
    {
        await using var scope = services.CreateAsyncScope();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        foreach (var (email, name, role, site, _) in DemoPeople.All)
        {
            if (await people.FindByEmailAsync(email) is not null) continue;
            var person = new Person { UserName = email, Email = email, EmailConfirmed = true, DisplayName = name, Role = role, SiteId = site is null ? null : sites[site] };
            var result = await people.CreateAsync(person, DemoPeople.Password);
            if (!result.Succeeded) throw new InvalidOperationException(string.Join("; ", result.Errors.Select(e => e.Description)));
        }
    }
}
