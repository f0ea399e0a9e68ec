// The invariants of FHIR R4 (4.0.1) for the resources and data types that our documents use: the
// "Constraints" tables of hl7.org/fhir/R4/<page>.html, written from memory; `path` selects what each is asked of. Where the page's
// own expression names a placeholder system ("something"), the code alone is asked for.
// Left out: dom-3, ref-1 (nothing is contained here; the resolver refuses any "#..."), txt-1 (the allowed
// elements are checked by check.py), and those of resources that are not used.

export const invariants = [
  // Any resource and element
  ["dom-2", "*", "contained.contained.empty()"],
  ["dom-4", "*", "contained.meta.versionId.empty() and contained.meta.lastUpdated.empty()"],
  ["dom-5", "*", "contained.meta.security.empty()"],
  ["dom-6", "*", "text.`div`.exists()"],
  ["ext-1", "*", "descendants().select(extension).all(extension.exists() != value.exists())"],
  ["per-1", "*", "descendants().ofType(Period).all(start.empty() or end.empty() or (start <= end))"],
  ["qty-3", "*", "descendants().ofType(Quantity).all(code.empty() or system.exists())"],
  ["cpt-2", "*", "descendants().ofType(ContactPoint).all(value.empty() or system.exists())"],
  ["att-1", "*", "descendants().ofType(Attachment).all(data.empty() or contentType.exists())"],
  ["rng-2", "*", "descendants().ofType(Range).all(low.empty() or high.empty() or (low <= high))"],
  // Bundle
  ["bdl-1", "Bundle", "total.empty() or (type = 'searchset') or (type = 'history')"],
  ["bdl-2", "Bundle", "entry.search.empty() or (type = 'searchset')"],
  ["bdl-3", "Bundle", "entry.request.empty()"],
  ["bdl-4", "Bundle", "entry.response.empty()"],
  ["bdl-5", "Bundle", "entry.all(resource.exists() or request.exists() or response.exists())"],
  ["bdl-7", "Bundle", "entry.where(fullUrl.exists()).select(fullUrl & resource.meta.versionId).isDistinct()"],
  ["bdl-8", "Bundle", "entry.fullUrl.where(contains('/_history/')).empty()"],
  ["bdl-9", "Bundle", "type = 'document' implies (identifier.system.exists() and identifier.value.exists())"],
  ["bdl-10", "Bundle", "type = 'document' implies (timestamp.exists())"],
  ["bdl-11", "Bundle", "type = 'document' implies entry.first().resource.is(Composition)"],
  // Resources
  ["cmp-1", "Composition", "descendants().where($this is BackboneElement).where(title.exists() or code.exists()).all(text.exists() or entry.exists() or section.exists())"],
  ["cmp-2", "Composition", "repeat(section).all(emptyReason.empty() or entry.empty())"],
  ["pat-1", "Patient", "contact.all(name.exists() or telecom.exists() or address.exists() or organization.exists())"],
  ["org-1", "Organization", "(identifier.count() + name.count()) > 0"],
  ["org-2", "Organization", "address.where(use = 'home').empty()"],
  ["org-3", "Organization", "telecom.where(use = 'home').empty()"],
  ["obs-3", "Observation", "referenceRange.all(low.exists() or high.exists() or text.exists())"],
  ["obs-6", "Observation", "dataAbsentReason.empty() or value.empty()"],
  ["obs-7", "Observation", "value.empty() or component.code.where(coding.intersect(%resource.code.coding).exists()).empty()"],
  ["ppc-1", "Consent", "policy.exists() or policyRule.exists()"],
  ["ppc-2", "Consent", "patient.exists() or scope.coding.where(code = 'patient-privacy').empty()"],
  ["ppc-3", "Consent", "patient.exists() or scope.coding.where(code = 'research').empty()"],
  ["ppc-4", "Consent", "patient.exists() or scope.coding.where(code = 'adr').empty()"],
  ["ppc-5", "Consent", "patient.exists() or scope.coding.where(code = 'treatment').empty()"],
  ["ait-1", "AllergyIntolerance", "verificationStatus.coding.where(system = 'http://terminology.hl7.org/CodeSystem/allergyintolerance-verification' and code = 'entered-in-error').exists() or clinicalStatus.exists()"],
  ["ait-2", "AllergyIntolerance", "verificationStatus.coding.where(system = 'http://terminology.hl7.org/CodeSystem/allergyintolerance-verification' and code = 'entered-in-error').empty() or clinicalStatus.empty()"],
  ["con-1", "Condition", "stage.all(summary.exists() or assessment.exists())"],
  ["con-2", "Condition", "evidence.all(code.exists() or detail.exists())"],
  ["con-3", "Condition", "clinicalStatus.exists() or verificationStatus.coding.where(code = 'entered-in-error').exists() or category.coding.where(code = 'problem-list-item').empty()"],
  ["con-4", "Condition", "abatement.empty() or clinicalStatus.coding.where(code = 'resolved' or code = 'remission' or code = 'inactive').exists()"],
  ["con-5", "Condition", "verificationStatus.coding.where(code = 'entered-in-error').empty() or clinicalStatus.empty()"],
  ["prr-1", "ServiceRequest", "orderDetail.empty() or code.exists()"],
  ["sev-1", "AuditEvent", "entity.all(name.empty() or query.empty())"],
];
