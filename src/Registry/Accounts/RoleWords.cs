using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Roles and permissions, in words.</summary>
internal static class RoleWords
{
    public static string Of(Role role) => role switch
    {
        Role.Administrator => "Runs the registry: people, keys, places, set-up, jobs. Sees no infant.",
        Role.Coordinator => "The program's staff: every infant of the region.",
        Role.Auditor => "Looks after who looked at what. Sees no infant.",
        Role.SiteManager => "Infants and rates of one site.",
        Role.AudiologyClinic => "Sends the evaluations of one clinic, and sees the infants it evaluated or was handed.",
        Role.InterventionProgram => "Sends the enrollments and plans of one program, and sees the infants it serves or was handed.",
        Role.VitalRecords => "Sends the births of one office, and sees the infants it registered.",
        Role.CaseWorker => "Sees the infants of some counties and those assigned to them, records attempts to reach their families and how "
            + "they are reached. An infant's county is where the mother lives; where that is not reported, the birth site's.",
        Role.Epidemiologist => "Counts as they may be released, and the de-identified extract. Sees no infant and no list of them.",
        _ => "Sends the tests of one site, and sees its infants.",
    };

    public static string OfPermission(string permission) => permission switch
    {
        Permissions.Person => "Signs in; changes the own password and second factor",
        Permissions.SeeCounts => "Sees counts as they may be released, how they are made, and the policy",
        Permissions.SeeInfants => "Sees infants: all; or those of the own site; or those of the own counties and those assigned",
        Permissions.TakeExtract => "Takes the de-identified extract",
        Permissions.BreakGlass => "Opens the record of a child that is with them, for a stated reason and a while; coordinators are told",
        Permissions.Coordinator => "Decides for the program: whose a row is, policy, publication, reminders, agreements",
        Permissions.SiteManager => "Answers for a site: its claims, mappings, rates",
        Permissions.SubmitForSite => "Sends rows: for every site, or the own",
        Permissions.EnterFamily => "Types how a family is reached and who cares for the child, of the infants seen",
        Permissions.ReadRecords => "Reads records over FHIR: all, or those of the own site",
        Permissions.Administrator => "People, site keys, places, set-up, jobs",
        Permissions.ReadTrail => "Reads who looked at what",
        _ => permission,
    };
}
