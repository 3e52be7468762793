using System.Text.Json.Serialization;

namespace Registry.Rules;

/// <summary>The steps that can be due.</summary>
public enum DueStep
{
    Screen,
    CompleteScreen,
    Rescreen,
    RepeatScreen,
    DiagnosticEvaluation,
    CompleteDiagnosis,
    ReferToIntervention,
    EnrolInIntervention,
    ServicePlan,
    AmplificationFitting,
    SurveillanceEvaluation,

    /// <summary>An ABR-based screen of both ears, where OAE alone does not answer.</summary>
    AbrScreen,

    /// <summary>A conductive hearing loss is seen again after treatment of the middle ear.</summary>
    MiddleEarReevaluation,

    /// <summary>A child with permanent hearing loss, or one the audiologist wants to see again.</summary>
    Monitoring,

    /// <summary>The program of the state the child lives in is told.</summary>
    HandOff,

    /// <summary>Targeted test for congenital CMV after a refer.</summary>
    CmvTest,

    /// <summary>The development of a child with permanent hearing loss is assessed.</summary>
    DevelopmentalAssessment,
}

/// <summary>One step, the last day on which it is in time, the id of the rule that asks for it
/// (<see cref="RuleCatalogue"/>) and why, in words.</summary>
public readonly record struct Due(DueStep Step, DateOnly DueOn, string Rule, [property: JsonIgnore] Sentence Because)
{
    [JsonConstructor]
    public Due(DueStep step, DateOnly dueOn, string rule, string why)
        : this(step, dueOn, rule, new Sentence(why))
    {
    }

    public string Why => Because.ToString();
}
