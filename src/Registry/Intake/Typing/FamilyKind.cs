using Registry.Infants.Record;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>What <c>{kind:family}</c> stands for in an address: a kind that says something of the family.</summary>
public sealed class FamilyKind : IRouteConstraint
{
    public static RowKind? Of(string? code) =>
        Codes.TryParse<RowKind>(code, out var kind) && EnterWords.IsOfFamily(kind) ? kind : null;

    public bool Match(
        HttpContext? httpContext, IRouter? route, string routeKey, RouteValueDictionary values, RouteDirection routeDirection) =>
        Of(values[routeKey] as string) is not null;
}
