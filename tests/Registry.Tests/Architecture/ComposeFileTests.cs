using YamlDotNet.Core;
using YamlDotNet.Serialization;

namespace Registry.Tests.Architecture;

/// <summary>The compose file cannot run where no container engine is, so it is checked by reading it the way an engine does.</summary>
public sealed class ComposeFileTests
{
    private const string Owner = "ConnectionStrings__RegistryOwner";

    private readonly Dictionary<object, object> _services;

    public ComposeFileTests()
    {
        using var text = File.OpenText(Path.Combine(SourceTree.Root, "docker-compose.yml"));
        var file = new DeserializerBuilder().Build().Deserialize<Dictionary<object, object>>(new MergingParser(new Parser(text)));
        _services = (Dictionary<object, object>)file["services"];
    }

    [Fact]
    public void It_has_the_four_services() =>
        Assert.Equal(["db", "migrate", "web", "worker"], _services.Keys.Cast<string>().Order());

    [Theory]
    [InlineData("db")]
    public void Foreign_images_are_pinned(string service)
    {
        var image = (string)Service(service)["image"];
        Assert.Matches(@":v?\d+\.\d+$", image);
    }

    [Fact]
    public void The_database_is_postgres_18() => Assert.StartsWith("postgres:18.", (string)Service("db")["image"]);

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
        Assert.Equal(Environment("migrate").Where(p => p.Key != Owner).Order(KeyOrder), web.Where(p => p.Key != "Role").Order(KeyOrder));
    }

    [Fact]
    public void Only_the_migration_has_the_owner_of_the_tables_and_nobody_the_superuser()
    {
        Assert.Contains("Username=registry;", Environment("migrate")[Owner], StringComparison.Ordinal);
        foreach (var service in new[] { "web", "worker" })
        {
            Assert.DoesNotContain(Owner, Environment(service).Keys);
            Assert.Contains("Username=registry_writer;", Environment(service)["ConnectionStrings__Registry"], StringComparison.Ordinal);
            Assert.Contains("Username=registry_reader;", Environment(service)["ConnectionStrings__RegistryReader"],
                StringComparison.Ordinal);
        }

        foreach (var service in new[] { "migrate", "web", "worker" })
            Assert.DoesNotContain(Environment(service).Values, v => v.Contains("SUPERUSER", StringComparison.Ordinal)
                || v.Contains("Username=postgres", StringComparison.Ordinal));
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
