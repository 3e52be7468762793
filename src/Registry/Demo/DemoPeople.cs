using Registry.Records;

namespace Registry.Demo;

/// <summary>The people one can be in the demonstration. The password is public: a registry with real data must never have them.</summary>
public static class DemoPeople
{
    public const string Password = "lindmere demonstration";

    public static readonly (string Email, string Name, Role Role, string? SiteCode, string As)[] All =
    [
        ("coordinator@lindmere.example", "Cora Ashgrove", Role.Coordinator, null, "Coordinator of the region"),
        ("manager@farrow-point.example", "Milo Thackeroy", Role.SiteManager, Places.LeakingSite, "Manager of Farrow Point"),
        ("screener@stillwater.example", "Sena Quispel", Role.Screener, Places.EarlySite, "Screener at Stillwater"),
        ("administrator@lindmere.example", "Ada Millbrook", Role.Administrator, null, "Administrator: people, keys, jobs"),
        ("auditor@lindmere.example", "Odo Fennimore", Role.Auditor, null, "Auditor: who looked at what"),
        ("audiologist@lind-hearing.example", "Linnea Marchbank", Role.AudiologyClinic, HandOffHistory.Clinic,
            "Audiologist at Lind Hearing"),
        ("intervention@lindmere.example", "Ingram Solloway", Role.InterventionProgram, Places.EarlyIntervention.Code,
            "Early intervention: referrals and enrollment"),
    ];

    /// <summary>Settings that make the sign-in page offer them.</summary>
    public static IEnumerable<KeyValuePair<string, string?>> Settings() =>
        All.SelectMany((p, i) => new Dictionary<string, string?>
        {
            [$"Demo:SignIns:{i}:Email"] = p.Email,
            [$"Demo:SignIns:{i}:Password"] = Password,
            [$"Demo:SignIns:{i}:As"] = p.As,
        }).Append(new("Demo:ShowSignIns", "true"));
}
