using Npgsql;
using Registry.Outreach;
using Registry.Platform;

namespace Registry.SetUp;

/// <summary>The link that begins a registry, on the command line only.</summary>
internal static class SetUpVerbs
{
    /// <summary><c>setup link</c>: a new one; those before open nothing.</summary>
    public static async Task<int> LinkAsync(WebApplication app, CancellationToken ct)
    {
        await using var scope = app.Services.CreateAsyncScope();
        if (await scope.ServiceProvider.GetRequiredService<AddFirstAdministrator>().MakeLinkAsync(replacing: true, ct) is not { } token)
        {
            Console.Error.WriteLine("Somebody administers this registry already: they invite others on the page People. When nobody can "
                + "sign in any more: administrator --email ADDRESS --name \"NAME\"");
            return Verbs.NotStarted;
        }

        Say(app.Services.GetRequiredService<MailStaff>().Link(Path(token)));
        return 0;
    }

    /// <summary>At a start that nobody administers.</summary>
    public static async Task SayWhenNewAsync(WebApplication app, string address, CancellationToken ct)
    {
        if (Demonstration.Of(app.Configuration).IsOn) return;
        await using var scope = app.Services.CreateAsyncScope();
        string? token;
        try
        {
            token = await scope.ServiceProvider.GetRequiredService<AddFirstAdministrator>().MakeLinkAsync(replacing: false, ct);
        }
        catch (NpgsqlException)
        {
            return; // migrate has yet to make the tables, or the database is not reached: the next start asks again
        }

        if (token is null) return;
        Say(string.IsNullOrEmpty(app.Configuration["Outreach:PublicUrl"]) ? address.TrimEnd('/') + Path(token)
            : app.Services.GetRequiredService<MailStaff>().Link(Path(token)));
    }

    private static string Path(string token) => $"/setup/link/{token}";

    private static void Say(string link) => Console.WriteLine(
        $"Nobody administers this registry yet. Set it up at {link} (once, within {Access.OneTimeLinks.SetUpLasts.TotalHours:0} hours).");
}
