using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class DoorsOfARecord : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "sent_as",
                table: "submissions",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "for_whom",
                table: "hand_offs",
                type: "text",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "ix_transfers_to_site_id",
                table: "transfers",
                column: "to_site_id",
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_responsible_site_id_born_on",
                table: "infant_status",
                columns: new[] { "responsible_site_id", "born_on" },
                filter: "responsible_site_id <> birth_site_id");

            // Whose role it was is known of people only as it is now.
            migrationBuilder.Sql("update submissions b set sent_as = p.role from people p where p.id = b.person_id;");

            // What opens a record no longer (Access/SeeingColumn, as it is at this version).
            migrationBuilder.Sql("""
                delete from infant_sites v
                 where (v.site_id, v.infant_id) in (
                         select site_id, infant_id from contacts union select site_id, infant_id from appointments
                         union select site_id, infant_id from family_contacts union select site_id, infant_id from care
                         union select to_site_id, infant_id from transfers union select shown_to_site_id, infant_id from hand_offs
                         union select appointment_site_id, infant_id from appointments)
                   and not (
                       exists (select from infant_identifiers f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from births f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from screenings f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from diagnoses f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from interventions f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from deaths f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from moves f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from transfers f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from refusals f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from risks f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from readmissions f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from medical_delays f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null)
                       or exists (select from contacts f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null
                         and (f.entered_as is null or f.entered_as not in ('coordinator', 'case_worker')) and not exists (select from submissions b where b.id = f.submission_id and b.sent_as in ('coordinator', 'case_worker')))
                       or exists (select from appointments f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null
                         and (f.entered_as is null or f.entered_as not in ('coordinator', 'case_worker')) and not exists (select from submissions b where b.id = f.submission_id and b.sent_as in ('coordinator', 'case_worker')))
                       or exists (select from family_contacts f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null
                         and not exists (select from submissions b where b.id = f.submission_id and b.sent_as in ('coordinator', 'case_worker')))
                       or exists (select from care f where f.infant_id = v.infant_id and f.site_id = v.site_id and f.superseded_at is null
                         and not exists (select from submissions b where b.id = f.submission_id and b.sent_as in ('coordinator', 'case_worker')))
                       or exists (select from transfers f where f.infant_id = v.infant_id and f.to_site_id = v.site_id and f.superseded_at is null
                         and (select k.kind from sites k where k.id = f.to_site_id) <> 'intervention_program')
                       or exists (select from hand_offs f where f.infant_id = v.infant_id and f.shown_to_site_id = v.site_id and f.superseded_at is null
                         and (f.consent_on is not null or (select k.kind from sites k where k.id = f.shown_to_site_id) <> 'intervention_program'))
                       or exists (select from appointments f where f.infant_id = v.infant_id and f.appointment_site_id = v.site_id and f.superseded_at is null
                         and (select k.kind from sites k where k.id = f.appointment_site_id) <> 'intervention_program'
                         and f.kind in ('made', 'kept', 'no_show')
                         and not exists (
                           select from appointments e
                            where e.infant_id = f.infant_id and e.step = f.step and e.appointment_on = f.appointment_on and e.superseded_at is null
                              and e.kind in ('moved', 'cancelled') and e.happened_on >= f.happened_on)
                         and (f.kind = 'kept' or not exists (
                           select from appointments n
                            where n.infant_id = f.infant_id and n.step = f.step and n.superseded_at is null and n.kind = 'made'
                              and n.appointment_site_id <> f.appointment_site_id
                              and (n.recorded_at, n.id) > (f.recorded_at, f.id)
                              and (n.appointment_on = f.appointment_on or exists (
                                select from appointments m
                                 where m.infant_id = f.infant_id and m.step = f.step and m.appointment_on = f.appointment_on and m.superseded_at is null
                                   and m.kind = 'no_show' and m.happened_on >= f.happened_on and m.recorded_at <= n.recorded_at))))));
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("""
                do $$
                declare f regprocedure;
                begin
                  for f in select oid::regprocedure from pg_proc
                            where proname like 'keep\_infant\_sites\_by\_%\_of\_%' or proname = 'keep_infant_sites_by_kind' loop
                    execute 'drop function ' || f || ' cascade';
                  end loop;
                end $$;

                insert into infant_sites (site_id, infant_id)
                select o.site_id, o.infant_id from (
                  select site_id, infant_id from contacts where superseded_at is null
                  union select site_id, infant_id from appointments where superseded_at is null
                  union select site_id, infant_id from family_contacts where superseded_at is null
                  union select site_id, infant_id from care where superseded_at is null
                  union select to_site_id, infant_id from transfers where superseded_at is null
                  union select shown_to_site_id, infant_id from hand_offs where superseded_at is null
                  union select appointment_site_id, infant_id from appointments where superseded_at is null) o
                 where o.site_id is not null
                    on conflict do nothing;
                """);

            migrationBuilder.DropIndex(
                name: "ix_transfers_to_site_id",
                table: "transfers");

            migrationBuilder.DropIndex(
                name: "ix_infant_status_responsible_site_id_born_on",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "sent_as",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "for_whom",
                table: "hand_offs");
        }
    }
}
