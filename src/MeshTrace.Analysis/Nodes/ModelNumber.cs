using System.Globalization;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Nodes;

/// <summary>A model identifier: 16 bits for a model of the standard, company and number for a vendor's (Mesh Protocol 1.1 §4.2).</summary>
/// <param name="Number">The SIG model identifier, or the vendor's own number.</param>
/// <param name="Company">Company identifier, or null for a SIG model.</param>
public readonly record struct ModelNumber(ushort Number, ushort? Company = null)
{
    public static ModelNumber Of(DescribedModel model) => new(model.ModelId, model.CompanyId);

    /// <summary><c>0x1000</c>, or <c>0x000A:0x0001</c> with the company first.</summary>
    public override string ToString() => Company is { } company
        ? string.Create(CultureInfo.InvariantCulture, $"0x{company:X4}:0x{Number:X4}")
        : string.Create(CultureInfo.InvariantCulture, $"0x{Number:X4}");
}

/// <summary>A model instance: the model on one element.</summary>
public readonly record struct ModelInstance(MeshTrace.Protocol.MeshAddress Element, ModelNumber Model);
