using System.Security.Claims;
using Registry.Access;
using Registry.Records;

namespace Registry.Ui;

/// <summary>A page that can be gone to from every other.</summary>
/// <param name="Path">Its address.</param>
/// <param name="Word">What it is called.</param>
/// <param name="Permission">Who may open it.</param>
public sealed record Place(string Path, string Word, string Permission)
{
    /// <summary>The roles it is shown to, when not all that may open it have a use for it.</summary>
    public IReadOnlySet<Role>? OnlyTo { get; init; }

    /// <summary>Whether an address is this page, or one below it.</summary>
    public bool Holds(string path) => Path == "/" ? path == "/"
        : path.StartsWith(Path, StringComparison.OrdinalIgnoreCase) && (path.Length == Path.Length || path[Path.Length] == '/');
}

/// <summary>One of the places a person goes to, and its pages.</summary>
public sealed record Destination(string Word, IReadOnlyList<Place> Pages);

/// <summary>Where one can go: five destinations, and of each the pages a person may open. One without any is not shown. That a page is
/// shown opens nothing: each has its own guard.</summary>
public static class Destinations
{
    private static readonly HashSet<Role> AtTheBed = [Role.Screener, Role.SiteManager];
    private static readonly HashSet<Role> InClinics = [Role.AudiologyClinic];
    private static readonly HashSet<Role> WhoHaveOpenings = [Role.AudiologyClinic, Role.SiteManager, Role.Coordinator];
    private static readonly HashSet<Role> InPrograms = [Role.InterventionProgram];
    private static readonly HashSet<Role> AllButCoordinators = Enum.GetValues<Role>().Except([Role.Coordinator]).ToHashSet();

    private static readonly Destination[] All =
    [
        new("Work",
        [
            new("/ward", "Ward list", Permissions.SubmitForSite) { OnlyTo = AtTheBed },
            new("/clinic", "Clinic", Permissions.SubmitForSite) { OnlyTo = InClinics },
            new("/early-intervention", "Early intervention", Permissions.SubmitForSite) { OnlyTo = InPrograms },
            new("/follow-up", "Follow-up", Permissions.SeeInfants),
            new("/", "Overview", Permissions.SeeInfants),
            new("/meeting", "Weekly meeting", Permissions.SeeInfants),
            new("/clinic/openings", "Openings", Permissions.SubmitForSite) { OnlyTo = WhoHaveOpenings },
            new("/submissions/held", "Held and rejected rows", Permissions.SubmitForSite),
            new("/claims", "Claims", Permissions.SiteManager),
            new("/outreach", "Reminders", Permissions.Coordinator),
        ]),
        new("Children",
        [
            new("/infants", "Infants", Permissions.SeeInfants),
            new("/find", "Find", Permissions.SeeInfants),
            new("/infants/new", "Enter a birth", Permissions.SubmitForSite),
            new("/glasses", "Break the glass", Permissions.BreakGlass),
            new("/glasses", "Opened records", Permissions.Coordinator),
        ]),
        new("Sites",
        [
            new("/sites", "Sites", Permissions.SubmitForSite),
            new("/flags", "Flags", Permissions.SiteManager),
            new("/submissions", "Submissions", Permissions.SubmitForSite),
            new("/submissions/new", "Upload a file", Permissions.SubmitForSite),
            new("/submissions/mappings", "Column mappings", Permissions.SiteManager),
            new("/claims/agreements", "Care agreements", Permissions.Coordinator),
        ]),
        new("Reports",
        [
            new("/reports", "Reports", Permissions.SeeCounts),
            new("/reports/published", "Published reports", Permissions.Coordinator),
            new("/reports/methods", "Methods", Permissions.SeeCounts),
            new("/reports/case-mix", "Case mix", Permissions.SeeCounts),
            new("/reports/chance-of-loss", "Chance of loss to follow-up", Permissions.SeeCounts),
            new("/policy", "Policy", Permissions.SeeCounts) { OnlyTo = AllButCoordinators },
            new("/extract", "Extract", Permissions.TakeExtract),
        ]),
        new("Administration",
        [
            new("/operations", "Operations", Permissions.Administrator),
            new("/places", "Places", Permissions.Administrator),
            new("/access/people", "People", Permissions.Administrator),
            new("/access/roles", "Roles", Permissions.Administrator),
            new("/access/keys", "Site keys", Permissions.Administrator),
            new("/setup", "Set-up", Permissions.Administrator),
            new("/policy", "Policy", Permissions.Coordinator),
            new("/erasures", "Erasure", Permissions.Coordinator),
            new("/access/trail", "Access trail", Permissions.ReadTrail),
        ]),
    ];

    /// <summary>Those a person may go to.</summary>
    public static IReadOnlyList<Destination> Of(ClaimsPrincipal user)
    {
        var role = Viewer.Of(user).Role;
        return [.. All.Select(d => d with { Pages = [.. d.Pages.Where(MayOpen).DistinctBy(p => p.Path)] }).Where(d => d.Pages.Count > 0)];

        bool MayOpen(Place page) => Permissions.Holds(user, page.Permission)
            && (page.OnlyTo is not { } roles || (role is { } own && roles.Contains(own)));
    }

    /// <summary>The page an address belongs to: the one that names it most exactly; null for one that belongs to none.</summary>
    public static Place? At(IReadOnlyList<Destination> destinations, string path) =>
        destinations.SelectMany(d => d.Pages).Where(p => p.Holds(path)).MaxBy(p => p.Path.Length);
}
