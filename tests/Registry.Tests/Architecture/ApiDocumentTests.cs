namespace Registry.Tests.Architecture;

/// <summary>The OpenAPI document in docs is the one the program serves. <c>REGISTRY_UPDATE_DOCS=1</c> rewrites it.</summary>
public sealed class ApiDocumentTests(TestDatabase database)
{
    private static readonly string Committed = Path.Combine(SourceTree.Root, "docs/api/v1.json");

    [Fact]
    public async Task The_committed_document_is_the_served_one()
    {
        await using var app = await RegistryApp.StartAsync(database);
        using var client = app.CreateClient();
        var served = (await client.GetStringAsync("/openapi/v1.json", TestContext.Current.CancellationToken)).ReplaceLineEndings("\n");
        if (Environment.GetEnvironmentVariable("REGISTRY_UPDATE_DOCS") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(Committed)!);
            await File.WriteAllTextAsync(Committed, served, TestContext.Current.CancellationToken);
        }

        Assert.True(File.Exists(Committed), "docs/api/v1.json is missing; run with REGISTRY_UPDATE_DOCS=1.");
        Assert.Equal((await File.ReadAllTextAsync(Committed, TestContext.Current.CancellationToken)).ReplaceLineEndings("\n"), served);
    }

    [Fact]
    public async Task The_program_starts_with_the_settings_of_the_compose_file()
    {
        var settings = ComposeFileTests.WebSettings()
            .Where(s => !s.Key.StartsWith("ConnectionStrings:", StringComparison.Ordinal) && s.Key != "Urls").ToDictionary();
        await using var app = await RegistryApp.StartAsync(database, settings: settings);
        using var client = app.CreateClient();
        using var answer = await client.GetAsync("/sign-in", TestContext.Current.CancellationToken);
        Assert.Equal(System.Net.HttpStatusCode.OK, answer.StatusCode);
    }
}
