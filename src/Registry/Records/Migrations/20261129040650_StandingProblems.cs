using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class StandingProblems : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            // What was found by another comparison says nothing of this one; the next night finds anew.
            migrationBuilder.Sql("delete from quality_findings");

            migrationBuilder.DropColumn(
                name: "evidence",
                table: "quality_findings");

            migrationBuilder.RenameColumn(
                name: "target",
                table: "quality_findings",
                newName: "sure");

            migrationBuilder.RenameColumn(
                name: "subject",
                table: "quality_findings",
                newName: "cause");

            migrationBuilder.RenameIndex(
                name: "ix_quality_findings_site_id_subject_name_measure",
                table: "quality_findings",
                newName: "ix_quality_findings_site_id_cause_name_measure");

            migrationBuilder.AddColumn<bool>(
                name: "above",
                table: "quality_findings",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            migrationBuilder.AddColumn<double>(
                name: "expected",
                table: "quality_findings",
                type: "double precision",
                nullable: false,
                defaultValue: 0.0);

            migrationBuilder.AddColumn<double>(
                name: "explained",
                table: "quality_findings",
                type: "double precision",
                nullable: true);

            migrationBuilder.AddColumn<DateOnly>(
                name: "onset_first",
                table: "quality_findings",
                type: "date",
                nullable: false,
                defaultValue: new DateOnly(1, 1, 1));

            migrationBuilder.AddColumn<DateOnly>(
                name: "onset_last",
                table: "quality_findings",
                type: "date",
                nullable: false,
                defaultValue: new DateOnly(1, 1, 1));

            migrationBuilder.AddColumn<DateOnly>(
                name: "onset_on",
                table: "quality_findings",
                type: "date",
                nullable: false,
                defaultValue: new DateOnly(1, 1, 1));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropColumn(
                name: "above",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "expected",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "explained",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "onset_first",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "onset_last",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "onset_on",
                table: "quality_findings");

            migrationBuilder.RenameColumn(
                name: "sure",
                table: "quality_findings",
                newName: "target");

            migrationBuilder.RenameColumn(
                name: "cause",
                table: "quality_findings",
                newName: "subject");

            migrationBuilder.RenameIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings",
                newName: "ix_quality_findings_site_id_subject_name_measure");

            migrationBuilder.AddColumn<string>(
                name: "evidence",
                table: "quality_findings",
                type: "text",
                nullable: false,
                defaultValue: "");
        }
    }
}
