using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Registry.Operations;

namespace Registry.Tests.Platform;

/// <summary>A secret may be a file, as a container engine presents it: no variable holds it.</summary>
public sealed class SecretFilesTests(TestDatabase database)
{
    [Fact]
    public async Task A_file_named_by_a_setting_is_its_value()
    {
        var folder = Directory.CreateTempSubdirectory("registry-secrets-");
        try
        {
            await File.WriteAllTextAsync(Path.Combine(folder.FullName, "Operations__BackupPassphrase"), "from a file of its own\n",
                TestContext.Current.CancellationToken);
            await using var app = await RegistryApp.StartAsync(database,
                settings: new Dictionary<string, string?> { ["SecretsFolder"] = folder.FullName });
            Assert.Equal("from a file of its own", app.Services.GetRequiredService<IOptions<OperationsOptions>>().Value.BackupPassphrase);
            Assert.Equal("from a file of its own", app.Services.GetRequiredService<IConfiguration>()["Operations:BackupPassphrase"]);
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }
}
