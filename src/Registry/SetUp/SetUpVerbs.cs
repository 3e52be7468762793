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
        string? token;
        try
        {
            token = await scope.ServiceProvider.GetRequiredService<AddFirstAdministrator>().MakeLinkAsync(replacing: true, ct);
        }
        catch (Exception e) when (e is NpgsqlException || e.InnerException is NpgsqlException)
        {
            Console.Error.WriteLine("The database has no tables yet, or does not answer: run the verb migrate first.");
            return Verbs.NotStarted;
        }

        if (token is null)
        {
            Console.Error.WriteLine("Somebody administers this registry already: they invite others on the page People. When nobody can "
                + "sign in any more: administrator --email ADDRESS --name \"NAME\"");
            return Verbs.NotStarted;
        }

        Say(app, (app.Configuration["Urls"] ?? "").Split(';')[0], token);
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

        if (token is not null) Say(app, address, token);
    }

    /// <summary>At the address people reach it by; where none is set, at the one it listens on.</summary>
    private static void Say(WebApplication app, string address, string token)
    {
        var path = $"/setup/link/{token}";
        var link = string.IsNullOrEmpty(app.Configuration["Outreach:PublicUrl"]) ? address.TrimEnd('/') + path
            : app.Services.GetRequiredService<MailStaff>().Link(path);
        Console.WriteLine($"Nobody administers this registry yet. Set it up at {link} (once, within "
            + $"{Access.OneTimeLinks.SetUpLasts.TotalHours:0} hours).");
    }
}
