using System.Diagnostics;
using Microsoft.Playwright;
using Registry.Tests.Browser;

[assembly: AssemblyFixture(typeof(Chromium))]

namespace Registry.Tests.Browser;

/// <summary>
/// One headless Chromium for the run: <c>REGISTRY_CHROMIUM</c>, an installed one (best without windows, which cost as much again), else
/// the test tool's own download, else Debian's package when run as root. Where none can be had the tests fail and say how to install
/// one; they never skip.
/// </summary>
public sealed class Chromium : IAsyncDisposable
{
    private static readonly string[] Installed =
    [
        "/usr/bin/chromium-headless-shell", "/usr/bin/chromium", "/usr/bin/chromium-browser",
        "/usr/bin/google-chrome", "/usr/bin/google-chrome-stable",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        @"C:\Program Files\Google\Chrome\Application\chrome.exe",
        @"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
    ];

    private readonly SemaphoreSlim _starting = new(1, 1);
    private IPlaywright? _playwright;
    private IBrowser? _browser;

    /// <summary>The shared browser, started on first use; every test opens its own context on it.</summary>
    public async Task<IBrowser> BrowserAsync()
    {
        await _starting.WaitAsync();
        try
        {
            if (_browser is not null) return _browser;
            _playwright = await Playwright.CreateAsync();
            return _browser = await _playwright.Chromium.LaunchAsync(new()
            {
                Timeout = (float)Eventually.Patience.TotalMilliseconds,
                ExecutablePath = Find() ?? Download() ?? InstallDebianPackage() ?? throw new InvalidOperationException(
                    "The browser tests need Chromium and found none. Install it (Debian: apt-get install chromium) or set "
                        + "REGISTRY_CHROMIUM to its path."),
                Args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
                    "--disable-component-update", "--disable-sync"],
            });
        }
        finally
        {
            _starting.Release();
        }
    }

    /// <summary>A page of its own context, as wide as a desk screen or a phone.</summary>
    public async Task<IPage> OpenAsync(string baseAddress, bool phone = false)
    {
        var browser = await BrowserAsync();
        var context = await browser.NewContextAsync(new()
        {
            BaseURL = baseAddress,
            ViewportSize = phone ? new() { Width = 390, Height = 844 } : new() { Width = 1280, Height = 900 },
            Locale = "en-US",
        });
        context.SetDefaultTimeout((float)Eventually.Patience.TotalMilliseconds);
        return await context.NewPageAsync();
    }

    public async ValueTask DisposeAsync()
    {
        if (_browser is not null) await _browser.DisposeAsync();
        _playwright?.Dispose();
        _starting.Dispose();
    }

    private static string? Find() =>
        Environment.GetEnvironmentVariable("REGISTRY_CHROMIUM") is { Length: > 0 } path ? path : Installed.FirstOrDefault(File.Exists);

    private string? Download()
    {
        var code = Microsoft.Playwright.Program.Main(["install", "chromium"]);
        return code == 0 && File.Exists(_playwright!.Chromium.ExecutablePath) ? _playwright.Chromium.ExecutablePath : null;
    }

    private static string? InstallDebianPackage()
    {
        if (!File.Exists("/usr/bin/apt-get") || !Environment.IsPrivilegedProcess) return null;
        foreach (var arguments in new[] { "update -qq", "install -y -qq chromium-headless-shell fonts-dejavu-core" })
        {
            using var process = Process.Start(new ProcessStartInfo("/usr/bin/apt-get", arguments) { RedirectStandardOutput = true })!;
            process.StandardOutput.ReadToEnd();
            process.WaitForExit();
        }

        return Find();
    }
}
